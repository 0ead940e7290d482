//! Measures and trued seams as pages, and the seams as comma-separated values after RFC 4180.

use super::pens;
use crate::piece::{How, Joined, NotWalked, Verdict};
use crate::write::GarmentRecord;
use crate::write::measures;
use crate::write::page::{Drawing, LEADING, Letters, Pen, SMALL, TEXT};

/// What a garment measures and how its seams meet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tables {
    /// Piece, measure, mm, inches, how far it may be out.
    pub measures: Vec<[String; 5]>,
    /// Both sides of a join, their lengths, the difference, and what that comes to.
    pub seams: Vec<[String; 5]>,
    /// The seams as a table for other programs.
    pub seams_csv: String,
}

/// The first line of the seams' table.
const COLUMNS: [&str; 13] = [
    "first side",
    "second side",
    "first mm",
    "second mm",
    "difference mm",
    "ease mm",
    "ease how",
    "least ease mm",
    "most ease mm",
    "tolerance mm",
    "tolerance how",
    "may be out by mm",
    "verdict",
];

impl Tables {
    /// The tables of a garment whose joins were walked.
    pub fn of(record: &GarmentRecord, walked: &[Result<Joined, NotWalked>]) -> Self {
        let measured = record.pieces.iter().flat_map(|p| {
            p.measures.iter().map(|m| {
                let side = m.side.as_deref().map(|s| format!(" {s}")).unwrap_or_default();
                let bound = m.bound_mm.map_or_else(|| "not known".to_owned(), |b| format!("{b:.1}"));
                [p.name.clone(), format!("{}{side}", m.name), format!("{:.1}", m.mm), m.inches.clone(), bound]
            })
        });
        let mut seams_csv = String::new();
        measures::line(&mut seams_csv, &COLUMNS.map(str::to_owned));
        walked.iter().for_each(|j| measures::line(&mut seams_csv, &csv(j)));
        Self { measures: measured.collect(), seams: walked.iter().map(seam).collect(), seams_csv }
    }
}

fn csv(join: &Result<Joined, NotWalked>) -> [String; 13] {
    let blank = String::new;
    match join {
        Err(e) => {
            let mut out = std::array::from_fn(|_| blank());
            out[0].clone_from(&e.join);
            out[12] = format!("not walked: {}", e.why);
            out
        }
        Ok(j) => {
            let [a, b] = j.walked.lengths.map(|l| format!("{l:.2}"));
            let known = |k: &crate::piece::Known<f64>| (format!("{:.2}", k.value), k.how.to_string());
            let ((ease, ease_how), (tolerance, tolerance_how)) = (known(&j.ease), known(&j.tolerance));
            let [least, most] = j.may_be_longer.map(|l| l.map(|l| format!("{l:.2}")).unwrap_or_default());
            let [x, y] = j.sides.clone();
            let [off, known_to] = [j.difference(), j.walked.known_to].map(|l| format!("{l:.2}"));
            [x, y, a, b, off, ease, ease_how, least, most, tolerance, tolerance_how, known_to, verdict(j)]
        }
    }
}

fn seam(join: &Result<Joined, NotWalked>) -> [String; 5] {
    match join {
        Err(e) => [e.join.clone(), String::new(), String::new(), String::new(), format!("not walked: {}", e.why)],
        Ok(j) => {
            let [a, b] = j.walked.lengths;
            let sides = format!("{} to {}", j.sides[0], j.sides[1]);
            [sides, format!("{a:.1}"), format!("{b:.1}"), format!("{:+.1}", j.difference()), verdict(j)]
        }
    }
}

fn verdict(j: &Joined) -> String {
    let eased = match j.may_be_longer {
        [Some(least), Some(most)] if j.cap && j.verdict == Verdict::True => {
            let taken = if j.ease.how == How::Assumed { "are usual, assumed" } else { "asked" };
            let span = if least < most { format!("{least:.0} to {most:.0} mm") } else { format!("{most:.1} mm") };
            format!(" with {:.1} mm of ease ({span} {taken})", j.difference())
        }
        _ => String::new(),
    };
    match j.verdict {
        Verdict::True if j.good() => format!("true{eased}"),
        Verdict::True => format!("true in length{eased}; look at sections, notches or the lines across"),
        Verdict::Off => "off".into(),
        Verdict::Ease => "ease to be looked at".into(),
        Verdict::Stretch => "the band is stretched further than its cloth".into(),
        Verdict::Loose => "the band is longer than its edge".into(),
    }
}

/// The tables on pages of a size.
pub(super) fn pages(tables: &Tables, letters: &Letters, [wide, high]: [f64; 2]) -> Vec<Drawing> {
    let mut at = Sheet { out: Vec::new(), down: f64::INFINITY, letters, wide, high };
    if !tables.measures.is_empty() {
        at.table("Measures, flat", &["piece", "measure", "mm", "inches", "out by up to"], &[0.0, 0.3, 0.62, 0.74, 0.88], &tables.measures);
    }
    if !tables.seams.is_empty() {
        at.table(
            "Seams laid against each other",
            &["sides", "first mm", "second mm", "difference", ""],
            &[0.0, 0.46, 0.57, 0.68, 0.8],
            &tables.seams,
        );
    }
    at.out
}

struct Sheet<'a> {
    out: Vec<Drawing>,
    down: f64,
    letters: &'a Letters<'a>,
    wide: f64,
    high: f64,
}

impl Sheet<'_> {
    fn table(&mut self, title: &str, heads: &[&str; 5], shares: &[f64; 5], rows: &[[String; 5]]) {
        let room = |k: usize| (shares.get(k + 1).copied().unwrap_or(1.0) - shares[k]) * self.wide - 3.0;
        let set: Vec<Vec<Vec<String>>> =
            rows.iter().map(|r| r.iter().enumerate().map(|(k, t)| self.letters.wrapped(t, SMALL, room(k))).collect()).collect();
        let mut headed = false;
        for row in set {
            let long = row.iter().map(Vec::len).max().unwrap_or(1) as f64 * SMALL * LEADING + 1.2;
            if !headed && self.down + 24.0 + long <= self.high {
                self.down += 10.0;
                self.head(title, heads, shares);
            } else if self.down + long > self.high {
                self.out.push(Drawing::default());
                self.down = 0.0;
                self.head(title, heads, shares);
            }
            headed = true;
            let (down, wide) = (self.down, self.wide);
            if let Some(page) = self.out.last_mut() {
                for (k, cell) in row.into_iter().enumerate() {
                    for (n, line) in cell.into_iter().enumerate() {
                        page.words((shares[k] * wide, down + (n as f64 + 1.0) * SMALL * LEADING - 0.6), SMALL, line);
                    }
                }
                page.line((0.0, down + long), (wide, down + long), Pen::new(0.1, &[]).grey(0.5));
            }
            self.down += long;
        }
    }

    fn head(&mut self, title: &str, heads: &[&str; 5], shares: &[f64; 5]) {
        let (down, wide) = (self.down, self.wide);
        if let Some(page) = self.out.last_mut() {
            page.words((0.0, down + 6.0), TEXT * 1.5, title);
            for (k, head) in heads.iter().enumerate() {
                page.words((shares[k] * wide, down + 13.0), SMALL, *head);
            }
            page.line((0.0, down + 14.5), (wide, down + 14.5), pens::FINE);
        }
        self.down += 14.5;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_tables_go_on_over_the_page() {
        let row = |k: usize| ["front".to_owned(), format!("measure {k}"), "100.0".into(), "3 15/16 in".into(), "0.2".into()];
        let tables = Tables { measures: (0..120).map(row).collect(), seams: vec![row(0)], ..Tables::default() };
        let letters = Letters::new();
        let pages = pages(&tables, &letters, [190.0, 277.0]);
        assert_eq!(pages.len(), 3);
        for page in &pages {
            for item in &page.items {
                let e = item.extent(&letters);
                assert!(e.y1 <= 277.5 && e.x1 <= 190.5, "{item:?}");
            }
        }
    }
}
