//! Which measures are taken of each kind of piece, and between which of the trade's points (see `measures`).

use super::measures::{Measure, Taken};
use super::ruler::Ruler;
use crate::length::{Length, Mm};
use crate::notes::PieceKind;

/// Below the armhole, the underarm or the crotch: 1 in.
const BELOW: f64 = Length::from_inches(1.0).mm();
/// Below the high shoulder point: 5 in.
const BELOW_SHOULDER: f64 = Length::from_inches(5.0).mm();
/// A neckline that hangs lower than this, mm, has a depth.
const NO_NECKLINE: f64 = 1.0;

pub(super) fn body(r: &Ruler, kind: PieceKind, out: &mut Vec<Measure>) {
    let half = r.corner("neck centre").is_some();
    let name = |whole: &'static str, halved: &'static str| if half { halved } else { whole };
    let (underarm, hem) = (r.down("underarm"), r.down(if half { "hem side" } else { "hem" }));
    out.extend(underarm.and_then(|d| r.across(name("chest", "half chest"), d + BELOW, !half)));
    let waisted = r.ends_at_waist();
    out.extend(
        underarm
            .zip(hem)
            .filter(|_| !waisted)
            .and_then(|(a, b)| r.waist(name("waist", "half waist"), a + BELOW, b).map(|m| Measure { half_round: !half, ..m })),
    );
    let [sweep, half_sweep] = if waisted { ["waist", "half waist"] } else { ["hem sweep", "half hem sweep"] };
    out.extend(r.corners(sweep, "hem left", "hem right", true));
    out.extend(r.corners(half_sweep, "hem centre", "hem side", false));
    out.extend(r.corners("across shoulders", "shoulder tip left", "shoulder tip right", false));
    if let Some(high) = r.down("neck").filter(|h| r.down("shoulder tip").is_some() && underarm.is_some_and(|u| h + BELOW_SHOULDER < u)) {
        let whole = if kind == PieceKind::BodyBack { "across back" } else { "across front" };
        let halved = if kind == PieceKind::BodyBack { "half across back" } else { "half across front" };
        out.extend(r.across(name(whole, halved), high + BELOW_SHOULDER, false));
    }
    out.extend(r.corners("neck width", "neck left", "neck right", false));
    if let Some((left, right)) = r.corner("neck left").zip(r.corner("neck right")) {
        let middle = left.lerp(right, 0.5);
        if let Some(down) = r.downward("centre length", middle) {
            if let Taken::Straight([top, _]) = down.taken {
                let depth = r.straight("neck depth", [middle, top], false);
                // The line between the high shoulder points is no edge: only they and the neckline can be out.
                let length = r.line.station(top) - r.line.station(middle);
                out.extend((length > NO_NECKLINE).then_some(Measure { length, ..depth }));
            }
            out.push(down);
        }
    }
    if r.corner("yoke left").is_some() {
        out.extend(r.downward("centre length", r.line.at));
    }
    r.along("centre length", "centre", out);
    for (side, corner) in [(None, "neck"), (Some("left"), "neck left"), (Some("right"), "neck right")] {
        // From the point down: the line may graze the neckline above it.
        let down = r.corner(corner).and_then(|high| r.downward("length", high).map(|m| (high, m)));
        if let Some((high, Measure { taken: Taken::Straight([_, low]), .. })) = down {
            out.push(Measure { side, ..r.straight("length", [high, low], false) });
        }
    }
    r.along("side length", "side", out);
    r.along("shoulder", "shoulder", out);
    r.both_sides("armhole", "shoulder tip", "underarm", out);
    r.both_sides("armhole below yoke", "yoke", "underarm", out);
}

pub(super) fn sleeve(r: &Ruler, out: &mut Vec<Measure>) {
    let folded = r.corner("end fold").is_some();
    if let Some(top) = r.corner("cap top").or_else(|| r.highest()) {
        // A hem need not lie level: it is met below the top of the cap. Of one that lies folded that is along its fold.
        let end = r.corner("end fold").or_else(|| r.lowest_below(top));
        let down = |at: f64| top + r.line.along * (at - r.line.station(top));
        out.extend(end.map(|end| r.straight("sleeve length", [top, down(r.line.station(end))], false)));
        out.extend(r.down("underarm").map(|u| r.straight("cap height", [top, down(u)], false)));
    }
    r.along("underarm length", "underarm seam", out);
    out.extend(r.down("underarm").and_then(|u| r.across("biceps", u + BELOW, folded)));
    out.extend(r.corners("sleeve opening", "end left", "end right", false));
    out.extend(r.corners("sleeve opening", "end front", "end back", false));
    out.extend(r.corners("sleeve opening", "end fold", "end seam", true));
}

pub(super) fn leg(r: &Ruler, kind: PieceKind, out: &mut Vec<Measure>) {
    out.extend(r.corners("waist", "waist centre", "waist side", false));
    if let Some((crotch, hem)) = r.down("crotch").zip(r.down("hem inside")) {
        out.extend(r.across("thigh", crotch + BELOW, true));
        out.extend(r.across("knee", 0.5 * (crotch + hem), true));
    }
    out.extend(r.corners("leg opening", "hem side", "hem inside", true));
    r.along("inside leg", "inside leg", out);
    r.along("outside leg", "outside leg", out);
    r.along(if kind == PieceKind::TrouserBack { "back rise" } else { "front rise" }, "rise", out);
}

pub(super) fn panel(r: &Ruler, out: &mut Vec<Measure>) {
    out.extend(r.corners("waist", "waist left", "waist right", false));
    out.extend(r.corners("hem sweep", "hem left", "hem right", false));
    out.extend(r.downward("centre length", r.line.at));
    r.along("side length", "side", out);
}

pub(super) fn band(r: &Ruler, out: &mut Vec<Measure>) {
    out.extend(r.downward("height", r.line.at));
    let all = super::crossing::flattened(&r.outline.segments().collect::<Vec<_>>(), 0.05);
    let off = |p: &Mm| r.line.distance(*p);
    let all: Vec<Mm> = all.into_iter().map(|p| super::layer::mm(p.1)).collect();
    let ends = all.iter().min_by(|a, b| off(a).total_cmp(&off(b))).zip(all.iter().max_by(|a, b| off(a).total_cmp(&off(b))));
    out.extend(ends.map(|(a, b)| Measure { length: (off(b) - off(a)).abs(), ..r.straight("width", [*a, *b], false) }));
    r.along("shoulder", "shoulder", out);
}
