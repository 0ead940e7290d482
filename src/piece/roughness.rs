//! Where lines do not run on across the seams of a garment, all together: worst first, and what is so on the wearer's left and right told once.

use super::pairs::sideless;
use super::sewn::Across;
use super::truing::Joined;

/// Both sides of a garment that differ by less than this, degrees, are told as one: what a laid garment's do.
const ALIKE: f64 = 3.0;

/// A line that makes a point or a dent across a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Rough<'a> {
    /// The join, as the notes write its sides.
    pub sides: &'a [String; 2],
    /// Where, and by how much.
    pub across: &'a Across,
    /// How many other places are so, on the other side of the body or at the seam's other end.
    pub others: usize,
}

/// All of them, the worst first.
pub fn rough<'a>(joins: &[&'a Joined]) -> Vec<Rough<'a>> {
    let mut all: Vec<Rough> =
        joins.iter().flat_map(|j| j.rough.iter().map(|across| Rough { sides: &j.sides, across, others: 0 })).collect();
    all.sort_by(|a, b| b.across.bend_deg.abs().total_cmp(&a.across.bend_deg.abs()));
    let mut out: Vec<Rough> = Vec::new();
    for one in all {
        let same = |r: &&mut Rough| place(r) == place(&one) && (r.across.bend_deg - one.across.bend_deg).abs() < ALIKE;
        match out.iter_mut().find(same) {
            Some(there) => there.others += 1,
            None => out.push(one),
        }
    }
    out
}

/// Corner and edges without their sides.
fn place(rough: &Rough) -> (String, Vec<String>) {
    let mut names: Vec<String> = rough.sides.iter().map(|s| sideless(s)).collect();
    names.extend(rough.across.edges.iter().map(|e| sideless(e)));
    (sideless(&rough.across.corner), names)
}
