//! From outline to pattern piece: what a cutter does with a line once it is found. Nothing here sees a pixel.
//!
//! | file | holds |
//! |---|---|
//! | `known` | how a value came to be known |
//! | `layer` | the lines of a piece: corners, edges, seams within, holes |
//! | `walk` | a path by the distance along it |
//! | `allowance`, `finish` | the cut line beyond the stitch line, corners as the trade finishes them |
//! | `seam_line` | the stitch line inside what was seen |
//! | `pairs`, `centre`, `balance` | left and right of one another; the centre line by halved widths; the difference of both halves; what is told of them |
//! | `halves` | half a piece on the fold, its mean with the other, right angles there |
//! | `through` | a drawn line through what a rule gives |
//! | `propose`, `shapes`, `fitting`, `circular` | names for corners and edges by the shape, which a person's names overrule; parts of a circle |
//! | `measures`, `darts_closed`, `halved`, `faces`, `ruler`, `taped` | flat measures between trade points, with open darts closed, of halves and of both faces; tape readings held against them |
//! | `grain`, `shrinking` | the grain as noted, the piece turned to it, sized for shrinkage, and lengths that were noted with it |
//! | `fullness`, `fan`, `slashing`, `welded`, `dart`, `linkage`, `double_pointed`, `notch` | darts, pleats, gathers and folded pieces opened; notches in the allowance |
//! | `draft` | a piece in two layers: as found, as drafted |
//! | `drafting`, `bench` | the one way from lines as found to lines as drafted, step by step |
//! | `misplaced` | what the notes place where it can't be |
//! | `noted`, `page`, `sides`, `both_halves`, `kept_places`, `item`, `opening`, `lying_open`, `correcting`, `notching` | its steps: what notes say of edges, laying on the page, halves and folds and what is noted on both, fullness opened, darts that lay open, a toile's corrections, notches |
//! | `marked`, `pleated` | what is drawn on a piece beside its stitch line: cut line, notches, darts, pleats, drill marks, grain, label |
//! | `derived`, `facing` | facings and linings of trued pieces; the strip along edges, darts folded shut |
//! | `row`, `sewn` | edges in a row as they are sewn; two rows walked against each other |
//! | `share`, `sharing`, `evenly` | a small difference between them shared out, notches with it |
//! | `truing`, `roughness`, `cutting` | every join of a garment walked; what a cutter checks before the cloth is cut |
//! | `crossing` | where lines cross |
//! | `answering`, `laid_line`, `middle`, `layings` | several layings laid on each other: corners that answer one another, how far they lie apart |
//! | `between`, `together` | the mean of layings drawn; a piece put together from several |

mod allowance;
mod answering;
mod balance;
mod bench;
mod between;
mod both_halves;
mod centre;
mod circular;
mod crossing;
mod correcting;
mod cutting;
mod dart;
mod darts_closed;
mod derived;
mod draft;
mod double_pointed;
mod drafting;
mod evenly;
mod faces;
mod facing;
mod fan;
mod finish;
mod fitting;
mod fullness;
mod grain;
mod halved;
mod halves;
mod item;
mod kept_places;
mod kinds;
mod known;
mod laid_line;
mod layer;
mod layings;
mod linkage;
mod lying_open;
mod marked;
mod measures;
mod middle;
mod misplaced;
mod notch;
mod noted;
mod notching;
mod opening;
mod page;
mod pairs;
mod pleated;
mod propose;
mod roughness;
mod row;
mod ruler;
mod seam_line;
mod sewn;
mod shapes;
mod sides;
mod slashing;
mod share;
mod sharing;
mod shrinking;
mod taped;
mod through;
mod together;
mod truing;
mod walk;
mod welded;
mod widening;

pub use allowance::{Allowance, AllowanceError, CutEdge, CutLine, Finish, cut_line, cut_line_past};
pub use balance::{Balance, balance};
pub use between::{MeanError, mean};
pub use centre::{Centre, Difference, Level, centre, difference, turned_down};
pub use cutting::{Check, Outcome, checks};
pub use dart::{Gave, Opened, PressedTo, ShutDart, dart_opened};
pub use derived::{NotDerived, derived};
pub use double_pointed::{DoublePointed, Widened, double_pointed_opened};
pub use draft::{AsSewn, Change, LiesOpen, NotchAt, Piece, dart_ends};
pub use drafting::{Draft, Given, drafted};
pub use faces::{kind_of_face, of_face, with_sums};
pub use fullness::{FullnessError, spread, unfolded};
pub use grain::{for_shrinkage, grain, grain_down, marked_centre, place};
pub use halves::{Half, HalfError, Keep, Meeting, halves, kept};
pub use known::{How, Known};
pub use layer::{Corner, Edge, Inner, Layer, LayerError, Line, alike};
pub use layings::{EdgeSpread, LaidOut, LayingError, Layings, Spread, layings};
pub use marked::{DartDrawn, MarkAt, Marked, NotchDrawn, marked};
pub(crate) use measures::is_measure;
pub use measures::{Measure, Measured, Taken};
pub use notch::notches;
pub use notching::match_notches;
pub use page::{Down, Laying};
pub use pairs::Pairs;
pub use pleated::FullnessDrawn;
pub use propose::{AsSeen, ByShape, Proposal, proposed};
pub use roughness::{Rough, rough};
pub use row::{Part, Row};
pub use seam_line::seam_line;
pub use sewn::{Across, MeetError, Section, Walked, walked};
pub use share::{Slid, lengthened, slid};
pub use sharing::{EdgeMoved, NotShared, SharedOut, shared};
pub use shrinking::Larger;
pub(crate) use taped::names as names_measure;
pub use taped::{Compared, compared, compared_round};
pub use together::{LayingPart, Shared, Together, TogetherError, put_together};
pub use truing::{Joined, NotWalked, Verdict, joins};
pub use walk::Walk;
