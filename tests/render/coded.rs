//! Sheets that carry a position code: a round mark, or none, half way along every side of every square, as the code's own table of states has it.

use super::curve::Point;
use super::sheet::{Marks, Sheet, srgb};

/// States from line to line and along a line before the code repeats.
const LINES: usize = 11;
const ALONG: usize = 743;
/// Nodes along each side of one sheet's area, and areas side by side.
const AREA: usize = 100;
const AREAS: usize = 81;
/// Radius of a mark, squares.
const RADIUS: f64 = 0.05;
/// Pitches, mm, in their order.
const PITCHES: [f64; 16] = [10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 75.0, 100.0, 12.7, 19.05, 25.4, 38.1, 50.8, 101.6];

/// Rows of states of the lines that run across, then of those that run down.
fn states() -> Vec<Vec<bool>> {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration/sheet-code.txt");
    let text = std::fs::read_to_string(file).expect("the code's table");
    let bits = |row: &str| row.chars().flat_map(|c| (0..4).rev().map(move |k| c.to_digit(16).expect("a digit") >> k & 1 == 1)).collect();
    text.lines().filter(|l| !l.starts_with('#')).map(bits).collect()
}

/// Whether the sheet with a number has a mark after node (i, j): to the right, and below.
fn marked(states: &[Vec<bool>], number: usize, pitch: f64, [i, j]: [usize; 2]) -> [bool; 2] {
    let place = PITCHES.iter().position(|p| *p == pitch).expect("a pitch of coded sheets");
    let area = (number - 1) * PITCHES.len() + place;
    let (x, y) = (area % AREAS * AREA + i, area / AREAS * AREA + j);
    [states[y % LINES][x % ALONG], states[LINES + x % LINES][y % ALONG]]
}

impl Sheet {
    /// A coded sheet of so many squares each way, its middle about the origin. Node (0, 0) of the sheet is returned beside it: an address (i, j)
    /// lies at (i, j) squares from there.
    pub fn coded(number: usize, pitch: f64, squares: [usize; 2]) -> (Self, Point) {
        let first = squares.map(|n| -((n / 2) as f64) * pitch);
        let last = [0, 1].map(|k| first[k] + squares[k] as f64 * pitch);
        // Whole polygons reach a little beyond the outermost lines.
        let span = [first.map(|v| v - 0.3 * pitch), last.map(|v| v + 0.3 * pitch)];
        let states = states();
        let (mut discs, mut others) = (Vec::new(), Vec::new());
        for j in 0..=squares[1] {
            for i in 0..=squares[0] {
                let at = [first[0] + i as f64 * pitch, first[1] + j as f64 * pitch];
                let [right, below] = marked(&states, number, pitch, [i, j]);
                if right && i < squares[0] {
                    discs.push(disc([at[0] + 0.5 * pitch, at[1]], RADIUS * pitch));
                }
                if below && j < squares[1] {
                    others.push(disc([at[0], at[1] + 0.5 * pitch], RADIUS * pitch));
                }
            }
        }
        let marks = Marks::Lines { width: 0.4, heavy: 0, heavy_width: 0.0 };
        let plain = Self::of(marks, pitch, span, srgb(196, 203, 207), srgb(70, 86, 100));
        (Self { print: others, print_across: discs, ..plain }, first)
    }
}

fn disc(at: Point, radius: f64) -> Vec<Point> {
    // Area of the 24-cornered ring as that of the disc.
    let r = radius * 1.005_729;
    (0..24).map(|k| f64::from(k) * std::f64::consts::TAU / 24.0).map(|a| [at[0] + r * a.cos(), at[1] + r * a.sin()]).collect()
}
