//! The desk answers what the page asks.

use super::asks::{Answer, Asks, Refusal};
use super::mend::Mend;
use super::{Desk, ReviewError, Verdict};
use crate::notes::Tape;
use serde_json::Value;

/// Longest line told, characters.
const LONGEST: usize = 300;

/// Words as one line without anything that moves a cursor or fills a screen: names of files and of what was asked for stand in it.
fn one_line(words: &str) -> String {
    let line: String = words.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if line.chars().count() <= LONGEST {
        return line;
    }
    let short: String = line.chars().take(LONGEST - 1).collect();
    format!("{short}…")
}

impl From<ReviewError> for Refusal {
    fn from(error: ReviewError) -> Self {
        let (status, say) = (error.status(), one_line(&error.say()));
        let look = match error {
            ReviewError::Changed { look, .. } => Some(*look),
            _ => None,
        };
        Self { status, say, look }
    }
}

impl Asks for Desk {
    fn queue(&self, by: &str) -> Answer<Value> {
        Ok(Self::queue(self, by)?)
    }

    fn look(&self, at: &str, by: &str) -> Answer<Value> {
        Ok(Self::look(self, at, by)?)
    }

    fn tile(&self, at: &str, level: u32, [x, y]: [u32; 2]) -> Answer<Vec<u8>> {
        Ok(Self::tile(self, at, level, x, y)?)
    }

    fn thumbnail(&self, at: &str) -> Answer<Vec<u8>> {
        Ok(Self::thumbnail(self, at)?)
    }

    fn residuals(&self, at: &str) -> Answer<Value> {
        Ok(Self::residuals(self, at)?)
    }

    fn checks(&self, at: &str) -> Answer<Value> {
        Ok(Self::checks(self, at)?)
    }

    fn mend(&self, at: &str, seen: &str, by: &str, mend: &Mend) -> Answer<Value> {
        Ok(Self::mend(self, at, seen, by, mend)?)
    }

    fn undo(&self, at: &str, seen: &str, by: &str) -> Answer<Value> {
        Ok(Self::undo(self, at, seen, by)?)
    }

    fn opinion(&self, at: &str, seen: &str, by: &str, word: Option<Verdict>, note: &str) -> Answer<Value> {
        Ok(Self::opinion(self, at, seen, by, word, note)?)
    }

    fn tick(&self, at: &str, by: &str, doubt: &str, ticked: bool) -> Answer<Value> {
        Ok(Self::tick(self, at, by, doubt, ticked)?)
    }

    fn tape(&self, at: &str, seen: &str, by: &str, tape: &Tape, written: &str) -> Answer<Value> {
        Ok(Self::tape(self, at, seen, by, tape, written)?)
    }
}
