//! What is asked of whatever the page is served from, and how that refuses.

use super::mend::Mend;
use super::opinion::Verdict;
use crate::notes::Tape;
use serde_json::Value;

/// Why something is refused.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// Status of HTTP (RFC 9110, 15).
    pub status: u16,
    /// One clear line: what, where, what to do.
    pub say: String,
    /// What the tracing is now, where another changed it first.
    pub look: Option<Value>,
}

impl Refusal {
    /// A refusal in words.
    pub fn new(status: u16, say: impl Into<String>) -> Self {
        Self { status, say: say.into(), look: None }
    }
}

/// An answer, or why there is none.
pub type Answer<T> = Result<T, Refusal>;

/// Whatever the page can be served from. `at` is a tracing's folder as the queue gives it, `by` the reviewer, `seen` the version that the
/// page shows.
#[allow(clippy::missing_errors_doc)] // each refuses what can't be done, with its reason
pub trait Asks: Send + Sync + 'static {
    /// The tracings, worst first.
    fn queue(&self, by: &str) -> Answer<Value>;
    /// All that is shown of one.
    fn look(&self, at: &str, by: &str) -> Answer<Value>;
    /// A tile of its straightened picture, JPEG.
    fn tile(&self, at: &str, level: u32, place: [u32; 2]) -> Answer<Vec<u8>>;
    /// Its small picture, JPEG.
    fn thumbnail(&self, at: &str) -> Answer<Vec<u8>>;
    /// What the grid leaves, node by node.
    fn residuals(&self, at: &str) -> Answer<Value>;
    /// Its garment's measures, tape readings and joins.
    fn checks(&self, at: &str) -> Answer<Value>;
    /// Makes a correction.
    fn mend(&self, at: &str, seen: &str, by: &str, mend: &Mend) -> Answer<Value>;
    /// Takes the last one back.
    fn undo(&self, at: &str, seen: &str, by: &str) -> Answer<Value>;
    /// Gives an opinion, or takes it back.
    fn opinion(&self, at: &str, seen: &str, by: &str, word: Option<Verdict>, note: &str) -> Answer<Value>;
    /// Ticks a doubt off.
    fn tick(&self, at: &str, by: &str, doubt: &str, ticked: bool) -> Answer<Value>;
    /// Writes a tape reading down, as it was written.
    fn tape(&self, at: &str, seen: &str, by: &str, tape: &Tape, written: &str) -> Answer<Value>;
}
