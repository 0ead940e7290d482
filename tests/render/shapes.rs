//! Invented garment pieces, drawn as a cutter would: few curves, true corners. Sizes in mm, the origin about in the middle.

use super::curve::{Curve, Point, Stretch};
use super::random::Random;

/// Numbers that vary a shape: each draws a factor near 1.
pub struct Figure {
    random: Random,
    spread: f64,
}

impl Figure {
    /// The shape as drawn.
    pub fn plain() -> Self {
        Self { random: Random::new(0), spread: 0.0 }
    }

    /// Every measure up to `spread` (a share) larger or smaller, drawn from `seed`.
    pub fn varied(seed: u64, spread: f64) -> Self {
        Self { random: Random::new(seed), spread }
    }

    fn mm(&mut self, measure: f64) -> f64 {
        measure * (1.0 + self.random.between(-self.spread, self.spread))
    }
}

/// Both halves of a shape of which the right one is given, from top to bottom of the centre line x = 0.
fn both(right: Curve) -> Curve {
    let left = right.map(|p| [-p[0], p[1]]).reversed();
    let mut whole = right;
    whole.stretches.extend(left.stretches);
    whole.close()
}

fn moved(curve: Curve, by: Point) -> Curve {
    curve.laid(0.0, by)
}

/// Sleeveless bodice front with a round neck.
pub fn bodice(f: &mut Figure) -> Curve {
    let (neck, drop) = (f.mm(88.0), f.mm(95.0));
    let (tip, slope) = (f.mm(178.0), f.mm(42.0));
    let (under, depth) = (f.mm(236.0), f.mm(230.0));
    let (hem, long) = (f.mm(214.0), f.mm(560.0));
    let right = Curve::from([0.0, drop])
        .cubic([neck * 0.58, drop], [neck * 0.98, drop * 0.5], [neck, 0.0])
        .line([tip, slope])
        .cubic([tip - 22.0, slope + (depth - slope) * 0.45], [tip - 4.0, depth - 12.0], [under, depth])
        .cubic([under - 12.0, depth + 110.0], [hem - 10.0, long - 190.0], [hem, long])
        .cubic([hem * 0.66, long + 12.0], [hem * 0.33, long + 16.0], [0.0, long + 16.0]);
    moved(both(right), [0.0, -long / 2.0])
}

/// A top laid flat with its sleeves: its outline, the bodice in it, and the armhole seams between them, right and left as seen.
pub fn top(f: &mut Figure) -> (Curve, Curve, [Curve; 2]) {
    let body = bodice(f);
    // Start, then neck, shoulder, armhole, side and hem of the right half; the left half in turn.
    let end = |k: usize| if k == 0 { body.start } else { body.stretches[k - 1].end() };
    let armhole = |k: usize| Curve { start: end(k), stretches: vec![body.stretches[k]], closed: false };
    let sleeve = |from: Point, to: Point| {
        let out = if from[0] > 0.0 { 1.0 } else { -1.0 };
        let high = if from[1] < to[1] { from } else { to };
        let cuff = [[high[0] + 145.0 * out, high[1] + 96.0], [high[0] + 118.0 * out, high[1] + 196.0]];
        if high == from { [cuff[0], cuff[1], to] } else { [cuff[1], cuff[0], to] }
    };
    let [right, left] = [2, body.stretches.len() - 3];
    let mut whole = Curve::from(body.start);
    for (k, stretch) in body.stretches.iter().enumerate() {
        if k == right || k == left {
            whole = sleeve(end(k), stretch.end()).into_iter().fold(whole, Curve::line);
        } else {
            whole.stretches.push(*stretch);
        }
    }
    let seams = [armhole(right), armhole(left)];
    (whole.close(), body, seams)
}

/// A top laid closed, front up: its outline, whose neck is the back's, the front with its own lower neckline, and the inside of the back
/// that shows between the two.
pub fn closed_top(f: &mut Figure) -> (Curve, Curve, Curve) {
    let front = bodice(f);
    let last = front.stretches.len() - 1;
    let (middle, [right, left]) = (front.start, [front.stretches[0].end(), front.stretches[last - 1].end()]);
    let high = 0.2 * middle[1] + 0.8 * right[1];
    let back = |from: Curve, way: f64| {
        let to = if way > 0.0 { right } else { left };
        from.cubic([0.55 * to[0], high], [0.95 * to[0], 0.3 * high + 0.7 * to[1]], to)
    };
    let mut whole = back(Curve::from([0.0, high]), 1.0);
    whole.stretches.extend(&front.stretches[1..last]);
    whole.stretches.extend(back(Curve::from([0.0, high]), -1.0).reversed().stretches);
    let mut inside = back(Curve::from([0.0, high]), 1.0);
    let right_front = Curve { start: middle, stretches: vec![front.stretches[0]], closed: false };
    inside.stretches.extend(right_front.reversed().stretches);
    let left_front = Curve { start: left, stretches: vec![front.stretches[last]], closed: false };
    inside.stretches.extend(left_front.reversed().stretches);
    inside.stretches.extend(back(Curve::from([0.0, high]), -1.0).reversed().stretches);
    (whole.close(), front, inside.close())
}

/// Short sleeve with a rounded cap.
pub fn sleeve(f: &mut Figure) -> Curve {
    let (wide, cap) = (f.mm(186.0), f.mm(128.0));
    let (wrist, long) = (f.mm(150.0), f.mm(150.0));
    let right = Curve::from([0.0, -cap]).cubic([wide * 0.46, -cap], [wide * 0.5, -cap * 0.12], [wide, 0.0]).line([wrist, long]).cubic(
        [wrist * 0.6, long + 5.0],
        [wrist * 0.3, long + 6.0],
        [0.0, long + 6.0],
    );
    moved(both(right), [0.0, -10.0])
}

/// Collar with points: a curved band.
pub fn collar(f: &mut Figure) -> Curve {
    let (wide, rise) = (f.mm(196.0), f.mm(26.0));
    let (point, depth) = (f.mm(28.0), f.mm(74.0));
    let right = Curve::from([0.0, 0.0])
        .cubic([wide * 0.4, 0.0], [wide * 0.75, rise * 0.45], [wide, rise])
        .line([wide + point, rise + depth])
        .cubic([wide * 0.7, rise * 0.7 + depth], [wide * 0.35, depth - 4.0], [0.0, depth - 4.0]);
    moved(both(right), [0.0, -50.0])
}

/// Patch pocket that ends in a point.
pub fn pocket(f: &mut Figure) -> Curve {
    let (wide, side, long) = (f.mm(82.0), f.mm(150.0), f.mm(185.0));
    let right = Curve::from([0.0, 0.0]).line([wide, 0.0]).line([wide - 3.0, side]).line([0.0, long]);
    let mut pocket = both(right);
    // The top runs through the centre in one line.
    pocket.start = [-wide, 0.0];
    pocket.stretches.pop();
    moved(pocket, [0.0, -90.0])
}

/// Back yoke of a shirt.
pub fn yoke(f: &mut Figure) -> Curve {
    let (neck, drop) = (f.mm(80.0), f.mm(28.0));
    let (tip, slope, long) = (f.mm(232.0), f.mm(36.0), f.mm(142.0));
    let right = Curve::from([0.0, drop])
        .cubic([neck * 0.55, drop], [neck * 0.95, drop * 0.75], [neck, -4.0])
        .line([tip, slope])
        .cubic([tip - 10.0, slope + 35.0], [tip - 9.0, long - 35.0], [tip - 2.0, long - 4.0])
        .cubic([tip * 0.66, long + 2.0], [tip * 0.33, long + 3.0], [0.0, long + 3.0]);
    moved(both(right), [0.0, -70.0])
}

/// One panel of a gored skirt.
pub fn gore(f: &mut Figure) -> Curve {
    let (waist, hip, hem) = (f.mm(92.0), f.mm(134.0), f.mm(196.0));
    let (long, sweep) = (f.mm(560.0), f.mm(26.0));
    let right = Curve::from([0.0, 8.0])
        .cubic([waist * 0.4, 8.0], [waist * 0.7, 4.0], [waist, 0.0])
        .cubic([waist + 22.0, 60.0], [hip - 6.0, 140.0], [hip, 200.0])
        .line([hem, long])
        .cubic([hem * 0.68, long + sweep * 0.7], [hem * 0.35, long + sweep], [0.0, long + sweep]);
    moved(both(right), [0.0, -290.0])
}

/// A round piece without corners, a little wider than high.
pub fn round(f: &mut Figure) -> Curve {
    let (a, b) = (f.mm(150.0), f.mm(132.0));
    ellipse(a, b)
}

/// An ellipse of four cubics; 4/3 (√2 − 1) is the usual length of their handles.
pub fn ellipse(a: f64, b: f64) -> Curve {
    let k = 4.0 / 3.0 * (2f64.sqrt() - 1.0);
    Curve::from([0.0, -b])
        .cubic([k * a, -b], [a, -k * b], [a, 0.0])
        .cubic([a, k * b], [k * a, b], [0.0, b])
        .cubic([-k * a, b], [-a, k * b], [-a, 0.0])
        .cubic([-a, -k * b], [-k * a, -b], [0.0, -b])
        .close()
}

/// A round sticker about a point.
pub fn disc(at: Point, across: f64) -> Curve {
    moved(ellipse(across / 2.0, across / 2.0), at)
}

/// A slim triangle of paper with its tip at a point, pointing `degrees` clockwise from the sheet's right.
pub fn pointer(tip: Point, degrees: f64, length: f64, width: f64) -> Curve {
    Curve::from([0.0, 0.0]).line([-length, width / 2.0]).line([-length, -width / 2.0]).close().laid(degrees, tip)
}

/// A tabard, and the neck opening in it.
pub fn tabard(f: &mut Figure) -> (Curve, Curve) {
    let (wide, long) = (f.mm(200.0), f.mm(270.0));
    let (neck, high) = (f.mm(86.0), f.mm(62.0));
    let right = Curve::from([0.0, -long])
        .line([wide, -long + 14.0])
        .cubic([wide - 14.0, -long * 0.3], [wide - 12.0, long * 0.3], [wide + 8.0, long])
        .cubic([wide * 0.6, long + 10.0], [wide * 0.3, long + 14.0], [0.0, long + 14.0]);
    (both(right), moved(ellipse(neck, high), [0.0, -long + 120.0]))
}

/// A square gusset with straight sides.
pub fn gusset(f: &mut Figure) -> Curve {
    let (a, b) = (f.mm(105.0), f.mm(120.0));
    Curve::from([-a, -b]).line([a, -b * 0.94]).line([a * 0.96, b]).line([-a * 1.05, b * 0.97]).close()
}

/// Waistcoat front: deep neck, pointed hem, no two sides alike.
pub fn waistcoat(f: &mut Figure) -> Curve {
    let (top, wide, long) = (f.mm(96.0), f.mm(235.0), f.mm(520.0));
    let (slope, depth) = (f.mm(40.0), f.mm(230.0));
    let outline = Curve::from([0.0, 0.0])
        .line([top, slope])
        .cubic([top - 14.0, slope + 90.0], [top + 18.0, depth - 20.0], [wide - 60.0, depth])
        .cubic([wide - 76.0, depth + 110.0], [wide - 66.0, long - 110.0], [wide - 50.0, long - 30.0])
        .line([20.0, long])
        .line([-78.0, long + 44.0])
        .line([-92.0, long - 40.0])
        .cubic([-98.0, long - 120.0], [-96.0, depth + 90.0], [-94.0, depth + 20.0])
        .cubic([-60.0, depth - 60.0], [-16.0, 90.0], [0.0, 0.0])
        .close();
    moved(outline, [-30.0, -long / 2.0])
}

/// All outlines without holes, for drawing lots.
pub const ALL: [fn(&mut Figure) -> Curve; 9] = [bodice, sleeve, collar, pocket, yoke, gore, round, gusset, waistcoat];

/// Half its extent along x and y.
pub fn extent(curve: &Curve) -> [Point; 2] {
    let mut box_ = [curve.start, curve.start];
    for p in curve.points(2.0) {
        for k in 0..2 {
            box_[0][k] = box_[0][k].min(p[k]);
            box_[1][k] = box_[1][k].max(p[k]);
        }
    }
    box_
}

/// The four corners round curves, `margin` mm further out.
pub fn around<'a>(curves: impl IntoIterator<Item = &'a Curve>, margin: f64) -> [Point; 4] {
    let (mut a, mut b) = ([f64::MAX; 2], [f64::MIN; 2]);
    for c in curves {
        let [low, high] = extent(c);
        for k in 0..2 {
            a[k] = a[k].min(low[k] - margin);
            b[k] = b[k].max(high[k] + margin);
        }
    }
    [a, [b[0], a[1]], b, [a[0], b[1]]]
}

/// Number of lines and cubics in an outline.
pub fn segments(curve: &Curve) -> usize {
    curve.stretches.iter().filter(|s| !matches!(s, Stretch::Line(p) if *p == curve.start)).count()
}
