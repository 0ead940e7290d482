//! From outline to pattern piece: what a cutter does with a line once it is found. Nothing here sees a pixel.
//!
//! | file | holds |
//! |---|---|
//! | `known` | how a value came to be known |
//! | `layer` | the lines of a piece: corners, edges, seams within, holes |
//! | `walk` | a path by the distance along it |
//! | `allowance`, `finish` | the cut line beyond the stitch line, corners as the trade finishes them |
//! | `pairs`, `centre` | left and right of one another; the centre line by halved widths; the difference of both halves |
//! | `halves` | half a piece on the fold, its mean with the other, right angles there |
//! | `through` | a drawn line through what a rule gives |
//! | `propose`, `shapes`, `fitting` | names for corners and edges by the shape, which a person's names overrule |
//! | `measures`, `taped` | flat measures between trade points; tape readings held against them |
//! | `crossing` | where lines cross |

mod allowance;
mod centre;
mod crossing;
mod finish;
mod fitting;
mod halves;
mod known;
mod layer;
mod measures;
mod pairs;
mod propose;
mod shapes;
mod taped;
mod through;
mod walk;

pub use allowance::{Allowance, AllowanceError, CutEdge, CutLine, Finish, by_name, cut_line};
pub use centre::{Centre, Difference, Level, centre, difference, turned_down};
pub use halves::{Half, HalfError, Keep, Meeting, halves, kept};
pub use known::{How, Known};
pub use layer::{Corner, Edge, Inner, Layer, LayerError, Line, alike};
pub use measures::{Measure, Measured, Taken};
pub use pairs::Pairs;
pub use propose::{AsSeen, ByShape, Proposal, proposed};
pub use taped::{Compared, compared};
pub use walk::Walk;
