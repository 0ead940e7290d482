//! A folder of garments at a time: which pictures there are, what of them is done, the run over the rest; and what the archive of their
//! records says, as a report, as pages to browse, and in answer to a question.
//!
//! | file | holds |
//! |---|---|
//! | `work` | one picture traced, one garment recorded: what every run does, and the calls that are kept |
//! | `listing` | pictures in folders and where their results go; what is no picture is told |
//! | `units` | pictures that are worked on together: those of one garment, or one alone |
//! | `rests` | what a tracing rests on; whether it is still the one to be made |
//! | `failed` | why a picture could not be traced, kept so that it is not tried again unchanged |
//! | `earlier` | tracings that a new picture took the place of |
//! | `left_behind` | tracings of pictures that are not there any more |
//! | `keeping` | locks, and marks of what was being worked on when a run died |
//! | `room` | memory, given out by what each picture needs |
//! | `queue` | the run: units opened in order, their pictures given to threads |
//! | `tally` | how far a run is |
//! | `readme` | how an archive is laid out, for whoever opens it without this program |
//! | `tree` | the folders below an archive's root, no link followed out of it |
//! | `fields` | the few fields of each record that are read back, with limits |
//! | `gather` | the record in each folder, pictures put to their garments |
//! | `archive` | garments and loose pictures as entries, each with what it says or why it can't be read |
//! | `standing` | which picture wants to be looked at first |
//! | `small` | thumbnails as they stand in a page |
//! | `page` | what all pages share: head, policy, links, words |
//! | `report` | `report.html` and `report.csv`: worst first |
//! | `catalogue` | the archive as pages to browse and to print, also for others |
//! | `words`, `years` | words and dates as they are compared |
//! | `card` | what is searched of a record |
//! | `index` | the cards of all records, kept in a cache |
//! | `asked` | what is asked of the cards: words, measures, years |

pub mod archive;
mod asked;
mod card;
pub mod catalogue;
mod earlier;
mod failed;
mod fields;
mod gather;
mod index;
mod keeping;
mod left_behind;
mod listing;
mod page;
mod queue;
mod readme;
pub mod report;
mod rests;
mod room;
mod small;
mod standing;
mod tally;
mod tree;
mod units;
mod words;
mod work;
mod years;

pub use archive::{Archive, ArchiveError, Kept};
pub use asked::{Asked, MeasureAsked};
pub use card::{Card, CardMeasure};
pub use earlier::replace;
pub use failed::FailedRecord;
pub use fields::outlines_hash;
pub use index::{Cards, cards};
pub use keeping::{Held, Keeping, sweep};
pub use left_behind::left_behind;
pub use listing::{Job, LeftOut, ListError, Listing, apart, as_one, grouped, list, pictures_in, place_for, without_bare};
pub use queue::{Run, Task, run};
pub use readme::{README, keep_readme};
pub use rests::{Changed, Rests, of_garment};
pub use room::{Room, need, usable};
pub use standing::{Standing, badness, out, wants_a_look};
pub use tally::{Tally, time_words};
pub use units::{Unit, units};
pub use work::{
    AUTO, Before, Compared, KeptCall, LENSES, Laid, Lenses, Looked, MadeOf, Outcome, PRINTS, Prints, Repeats, Terms, Traced, Work,
    WorkError, Written, before, folded, gather, keep_call, keep_failure, kept_calls, look, look_by, namesakes, noted, possible, right_side,
    session, settings, sheet, shown, taken, trace_job,
};
