//! How far a run is.

use std::time::Duration;

/// Pictures counted by what came of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// All there are.
    pub all: usize,
    /// Traced now.
    pub traced: usize,
    /// Traced before, and still right.
    pub unchanged: usize,
    /// Of both, those with doubts about a line, and not only about what nobody measured.
    pub doubtful: usize,
    /// Not traced.
    pub failed: usize,
}

impl Tally {
    /// Pictures that are done.
    pub fn done(&self) -> usize {
        self.traced + self.unchanged + self.failed
    }

    /// Time that the rest will take if it goes on as so far; `None` before there is anything to go by. What was unchanged took no time.
    pub fn left(&self, so_far: Duration) -> Option<Duration> {
        let worked = self.traced + self.failed;
        let share = (self.all - self.done().min(self.all)) as f64 / worked as f64;
        (worked > 0).then(|| so_far.mul_f64(share))
    }

    /// Counts in words, such as `480 traced, 15 unchanged, 5 failed; 33 doubtful`.
    pub fn words(&self) -> String {
        let parts = [(self.traced, "traced"), (self.unchanged, "unchanged"), (self.failed, "failed")];
        let told: Vec<String> = parts.iter().filter(|(n, _)| *n > 0).map(|(n, word)| format!("{n} {word}")).collect();
        let told = if told.is_empty() { "nothing done".to_owned() } else { told.join(", ") };
        if self.doubtful > 0 { format!("{told}; {} doubtful", self.doubtful) } else { told }
    }
}

/// A stretch of time in words: seconds, minutes or hours, whichever reads well.
pub fn time_words(time: Duration) -> String {
    match time.as_secs_f64() {
        s if s < 10.0 => format!("{s:.1} s"),
        s if s < 100.0 => format!("{s:.0} s"),
        s if s < 6000.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.1} h", s / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_and_time_left() {
        let tally = Tally { all: 100, traced: 20, unchanged: 30, doubtful: 4, failed: 5 };
        assert_eq!(tally.words(), "20 traced, 30 unchanged, 5 failed; 4 doubtful");
        assert_eq!(tally.left(Duration::from_secs(50)), Some(Duration::from_secs(90)));
        assert_eq!(Tally { all: 3, ..Tally::default() }.left(Duration::from_secs(1)), None);
        assert_eq!(Tally::default().words(), "nothing done");
        assert_eq!([5, 61, 400, 9000].map(|s| time_words(Duration::from_secs(s))), ["5.0 s", "61 s", "7 min", "2.5 h"]);
    }
}
