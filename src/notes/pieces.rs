//! Pieces and tape readings: from their tables, checked for what their values can't know one by one.

use super::fullness::{Dart, Gather, Pleat};
use super::in_line::Places;
use super::piece::{Cut, Grain, Keep, LayingsMake, Notch, PieceKind, PieceMark, PieceNotes, Spot};
use super::values::{NotLess, Two, some_positive};
use super::{Directions, Fault, alike};
use crate::length::Length;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct PieceTable {
    kind: Option<PieceKind>,
    cut: Option<Cut>,
    cloth: Option<String>,
    allowance: BTreeMap<String, NotLess>,
    grain: Option<Grain>,
    centre: Option<Two<Spot>>,
    fold: Option<String>,
    keep: Option<Keep>,
    layings: Option<LayingsMake>,
    squared: bool,
    open: bool,
    #[serde(deserialize_with = "some_positive")]
    take_up: Option<Length>,
    #[serde(deserialize_with = "some_positive")]
    relaxed: Option<Length>,
    stretch: Directions,
    shrinkage: Directions,
    dart: Vec<Spanned<Dart>>,
    pleat: Vec<Spanned<Pleat>>,
    gather: Vec<Spanned<Gather>>,
    notch: Vec<Notch>,
    mark: Vec<Spanned<PieceMark>>,
    from: Option<String>,
    along: Vec<String>,
    #[serde(deserialize_with = "some_positive")]
    width: Option<Length>,
    remarks: Option<String>,
}

/// Shrinkage beyond this, percent, is no washing but another cloth.
const MOST_SHRINKAGE: f64 = 0.5;
/// Stretch beyond this, percent, no cloth has: the stretchiest are told with 100 % and a little more (seamwork classroom).
const MOST_STRETCH: f64 = 2.0;
/// Legs of a dart that lies open are as far apart as it takes in, within this share of it and this, mm (1/4 in).
const LEGS_OFF: (f64, f64) = (0.25, 6.35);
/// A tape may read elastic longer than it is by so much, mm (1/4 in).
const LONGER: f64 = 6.35;
/// Pleats nearer to one another than this, mm, are none that can be folded (common practice, no source).
const PLEATS_APART: f64 = 3.0;

/// A piece from its table.
///
/// # Errors
/// A facing without its piece, edges or width, two darts, pleats, gathers or marks of one name, a dart with no or three legs, fullness that takes cloth away,
/// stretch below nothing or shrinkage beyond half.
pub(super) fn piece(text: &str, (name, places): (&str, &Places), table: Spanned<PieceTable>) -> Result<PieceNotes, Fault> {
    let byte = table.span().start;
    let t = table.into_inner();
    directions(text, |key| places.byte(&["piece", name, key]).unwrap_or(byte), &t.stretch, &t.shrinkage)?;
    if t.along.is_empty() == t.width.is_some() || (t.from.is_none() && t.width.is_some()) {
        return Err(Fault::at(text, byte, "a facing needs from (a piece), along (its edges) and width; a lining needs from alone"));
    }
    Ok(PieceNotes {
        kind: t.kind,
        cut: t.cut,
        cloth: t.cloth,
        allowance: t.allowance.into_iter().map(|(edge, length)| (edge.trim().to_owned(), length.0)).collect(),
        grain: t.grain,
        centre: t.centre.map(|two| two.0),
        fold: t.fold,
        keep: t.keep,
        layings: t.layings,
        squared: t.squared,
        open: t.open,
        take_up: t.take_up,
        relaxed: t.relaxed,
        stretch: t.stretch,
        shrinkage: t.shrinkage,
        darts: named(text, "darts", t.dart, |d| &d.name, dart)?,
        pleats: named(text, "pleats", t.pleat, |p| &p.name, pleat)?,
        gathers: named(text, "gathers", t.gather, |g| &g.name, gather)?,
        notches: t.notch,
        marks: named(text, "marks", t.mark, |m| &m.name, |_| None)?,
        from: t.from,
        along: t.along,
        width: t.width,
        remarks: t.remarks,
        lines: places.piece(name),
    })
}

/// Whether stretch and shrinkage can be meant.
///
/// # Errors
/// They can't.
pub(super) fn directions(text: &str, byte: impl Fn(&str) -> usize, stretch: &Directions, shrinkage: &Directions) -> Result<(), Fault> {
    let all = |d: &Directions| [d.lengthwise, d.crosswise, d.bias].into_iter().flatten();
    if let Some(less) = all(stretch).find(|p| p.share() < 0.0) {
        return Err(Fault::at(text, byte("stretch"), format!("a stretch is 0 % or more, not {less}: (stretched - relaxed) / relaxed")));
    }
    if let Some(much) = all(stretch).find(|p| p.share() > MOST_STRETCH) {
        let words =
            format!("no cloth stretches by {much}: write by how much it gets longer, (stretched - relaxed) / relaxed, like \"50 %\"");
        return Err(Fault::at(text, byte("stretch"), words));
    }
    if let Some(much) = all(shrinkage).find(|p| p.share().abs() > MOST_SHRINKAGE) {
        return Err(Fault::at(text, byte("shrinkage"), format!("a shrinkage lies between -50 % (it grows) and 50 %, not {much}")));
    }
    Ok(())
}

/// A list of things each with a name of its own.
fn named<T>(
    text: &str,
    what: &str,
    list: Vec<Spanned<T>>,
    name: impl Fn(&T) -> &String,
    wrong: impl Fn(&T) -> Option<String>,
) -> Result<Vec<T>, Fault> {
    let mut out: Vec<T> = Vec::new();
    for item in list {
        let fault = |words: String| Err(Fault::at(text, item.span().start, words));
        let own = name(item.get_ref()).trim();
        if own.is_empty() || out.iter().any(|o| name(o).trim() == own) {
            return fault(format!("two {what} of this piece are called \"{own}\", or one has no name; give each a name of its own"));
        }
        if let Some(words) = wrong(item.get_ref()) {
            return fault(words);
        }
        out.push(item.into_inner());
    }
    Ok(out)
}

fn dart(d: &Dart) -> Option<String> {
    let legs = if d.other_point.is_some() { 1..=1 } else { 1..=2 };
    if !legs.contains(&d.legs.len()) {
        return Some(format!(
            "the dart \"{}\" needs where its legs end: one place when sewn shut (or with two points), two when it lies open",
            d.name
        ));
    }
    let [Spot::OnEdge(a), Spot::OnEdge(b)] = d.legs.as_slice() else { return None };
    if !alike(&a.edge, &b.edge) {
        return Some(format!("the legs of the dart \"{}\" end on {} and on {}; a dart opens into one edge", d.name, a.edge, b.edge));
    }
    let same = a.from.as_deref().unwrap_or_default() == b.from.as_deref().unwrap_or_default();
    d.intake.filter(|_| same).and_then(|intake| legs_off(&d.name, (a.at.mm() - b.at.mm()).abs(), intake))
}

/// What is wrong with the legs of a dart that lies open, so far apart, mm.
pub(crate) fn legs_off(name: &str, apart: f64, intake: Length) -> Option<String> {
    let off = (apart - intake.mm()).abs();
    (off > (LEGS_OFF.0 * intake.mm()).max(LEGS_OFF.1)).then(|| {
        format!("the legs of the dart \"{name}\" end {apart:.0} mm apart, and it takes in {intake}; where it lies open both are the same")
    })
}

/// What is wrong with fullness that is to be as full at the very edge it lies on.
fn across_itself(name: &str, edge: &str, across: Option<&String>) -> Option<String> {
    across.filter(|a| alike(a, edge)).map(|_| {
        format!("\"{name}\" lies on {edge} and names it as across; that is the edge on the other side of the piece, if it is as full")
    })
}

fn pleat(p: &Pleat) -> Option<String> {
    if let Some(why) = across_itself(&p.name, &p.edge, p.across.as_ref()) {
        return Some(why);
    }
    let [Spot::OnEdge(a), Spot::OnEdge(b)] = &p.between else { return None };
    let same = alike(&a.edge, &b.edge) && a.from.as_deref().unwrap_or_default() == b.from.as_deref().unwrap_or_default();
    same.then(|| crowded(p, (a.at.mm() - b.at.mm()).abs())).flatten()
}

/// What is wrong with pleats that share so long a stretch of their edge, mm.
pub(crate) fn crowded(p: &Pleat, way: f64) -> Option<String> {
    let count = f64::from(p.count.unwrap_or(1));
    if count < 2.0 {
        return None;
    }
    match p.spacing.map(|s| s.mm()) {
        Some(step) if step * (count - 1.0) > way + PLEATS_APART => Some(format!(
            "\"{}\": {count:.0} pleats {step:.1} mm apart take {:.0} mm, and between its ends are {way:.0} mm",
            p.name,
            step * (count - 1.0)
        )),
        step if step.unwrap_or(way / count) < PLEATS_APART => Some(format!(
            "\"{}\": {count:.0} pleats on {way:.0} mm lie {:.1} mm apart, which nobody folds; look at count and between",
            p.name,
            step.unwrap_or(way / count)
        )),
        _ => None,
    }
}

/// What is wrong with elastic that is longer by itself than the edge it draws together, mm.
pub(crate) fn slack(g: &Gather, sewn: f64) -> Option<String> {
    let relaxed = g.relaxed?;
    (relaxed.mm() > sewn + LONGER).then(|| {
        let name = &g.name;
        format!("\"{name}\": its elastic is {relaxed} long by itself, and the edge that it draws together is {sewn:.0} mm; sewn in, elastic is never shorter than by itself")
    })
}

fn gather(g: &Gather) -> Option<String> {
    if let Some(why) = across_itself(&g.name, &g.edge, g.across.as_ref()) {
        return Some(why);
    }
    if let Some(why) = g.sewn.and_then(|sewn| slack(g, sewn.mm())) {
        return Some(why);
    }
    let (sewn, full) = (g.sewn?, g.full?);
    (full < sewn)
        .then(|| format!("\"{}\" is {full} long drawn out and {sewn} as sewn; gathers take cloth up, so full is the longer", g.name))
}

#[cfg(test)]
mod tests {
    use super::super::{Called, GatheredBy, GrainAlong, GrainRuns, Laid, Notes, OnEdge, Pressed};
    use super::*;
    use crate::length::Px;

    const WHOLE: &str = r#"[garment]
name = "Pip's waistcoat"
date_earliest = "1905"
date_latest = "1911-05"
date_certainty = "probable"
stretch = { crosswise = "35 %" }
[piece.front]
kind = "body front"
cut = "2, mirrored"
allowance = { all = "10 mm", "side left" = "1/2 in", "hem fold" = "25 mm" }
centre = ["neck centre", "hem centre"]
shrinkage = { lengthwise = "3 %" }
[piece.front.grain]
along = [{ px = [10, 20] }, { edge = "hem", at = "40 mm", from = "hem left" }]
runs = "bias"
[[piece.front.dart]]
name = "bust"
legs = ["dart mouth"]
point = { px = [400, 900] }
intake = "1 in"
pressed = "down"
[[piece.front.pleat]]
name = "waist"
edge = "waist"
between = ["a", "b"]
depth = "20 mm"
count = 3
laid = "to centre"
[[piece.front.gather]]
name = "yoke"
by = "elastic"
edge = "top"
sewn = "180 mm"
full = "320 mm"
[[piece.front.notch]]
edge = "armhole"
at = "62 mm"
[[piece.front.mark]]
name = "pocket"
at = "pocket corner"
[[join]]
edges = ["sleeve: cap", "front: armhole left + back: armhole left"]
ease = "25 mm"
[[tape]]
what = "chest"
reading = "19 1/2 in"
"#;

    #[test]
    fn all_of_it() {
        let notes = Notes::from_text(WHOLE).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(notes.garment.date_latest.as_ref().map(|d| d.text()), Some("1911-05"));
        assert_eq!(notes.garment.stretch.crosswise.map(|p| p.share()), Some(0.35));
        let front = &notes.pieces["front"];
        assert!(Cut::from_text("2, not mirrored").is_ok_and(|c| !c.mirrored) && Cut::from_text("4, 2 pairs").is_ok_and(|c| c.mirrored));
        let cut = front.cut.as_ref().expect("cut");
        assert_eq!((front.kind, cut.count, cut.mirrored, cut.on_fold), (Some(PieceKind::BodyFront), 2, true, false));
        let grain = front.grain.as_ref().expect("grain");
        let on = OnEdge { edge: "hem".into(), at: Length::from_mm(40.0), from: Some("hem left".into()) };
        assert_eq!(grain.along, GrainAlong::Spots([Spot::Px(Px::new(10.0, 20.0)), Spot::OnEdge(on)]));
        assert_eq!(grain.runs, GrainRuns::Bias);
        assert_eq!((front.darts[0].intake, front.darts[0].pressed), (Some(Length::from_mm(25.4)), Some(Pressed::Down)));
        assert_eq!((front.pleats[0].count, front.pleats[0].laid), (Some(3), Some(Laid::ToCentre)));
        assert_eq!(front.gathers[0].by, GatheredBy::Elastic);
        let of = |name, is| front.allowance_of(&Called::of(name, is, None));
        assert_eq!(of("side left", None), Some(("side left", Length::from_mm(12.7))));
        assert_eq!(of("lower edge", Some("hem fold")), Some(("hem fold", Length::from_mm(25.0))));
        assert_eq!(of("neck", Some("seam")), Some(("all", Length::from_mm(10.0))));
        assert_eq!(notes.joins[0].edges[1].0.len(), 2);
        assert_eq!(notes.joins[0].edges[1].to_string(), "front: armhole left + back: armhole left");
        assert_eq!(notes.tapes[0].reading, Length::from_inches(19.5));
    }

    /// TOML has dates of its own, and a year looks like a number.
    #[test]
    fn dates_may_stand_without_quotes() {
        for (bare, text) in [("1905", "1905"), ("1905-03-01", "1905-03-01")] {
            let notes = Notes::from_text(&format!("[garment]\ndate_earliest = {bare}\n")).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(notes.garment.date_earliest.as_ref().map(|d| d.text()), Some(text));
        }
        assert!(Notes::from_text("[garment]\ndate_earliest = 12:30:00\n").is_err());
    }

    /// One change to good notes, the line it is in, and a word the message must hold.
    #[test]
    fn faults_of_pieces_name_their_line() {
        let cases = [
            ("date_latest = \"1911-05\"", "date_latest = \"1904\"", 1, "comes after"),
            ("date_latest = \"1911-05\"", "date_latest = \"May 1911\"", 4, "no date"),
            ("date_certainty = \"probable\"", "date_certainty = \"sure\"", 5, "probable"),
            ("crosswise = \"35 %\"", "crosswise = \"35\"", 6, "percentage"),
            ("crosswise = \"35 %\"", "crosswise = 0.35", 6, "percentage"),
            ("crosswise = \"35 %\"", "crosswise = \"-3 %\"", 6, "0 % or more"),
            ("crosswise = \"35 %\"", "crosswise = \"300 %\"", 6, "no cloth stretches"),
            ("kind = \"body front\"", "kind = \"bodice\"", 8, "body front"),
            ("cut = \"2, mirrored\"", "cut = \"mirrored\"", 9, "how many"),
            ("count = 3", "count = 3\nacross = \"Waist\"", 22, "names it as across"),
            ("by = \"elastic\"", "by = \"elastic\"\nacross = \"top\"", 29, "names it as across"),
            ("cut = \"2, mirrored\"", "cut = \"2, mirorred\"", 9, "\"mirorred\" says nothing"),
            ("cut = \"2, mirrored\"", "cut = \"1, place on flod\"", 9, "\"flod\" says nothing"),
            ("full = \"320 mm\"", "full = \"320 mm\"\nrelaxed = \"190 mm\"", 29, "never shorter than by itself"),
            ("all = \"10 mm\"", "all = \"-10 mm\"", 10, "0 mm or more"),
            ("all = \"10 mm\"", "all = \"10\"", 10, "no unit"),
            ("centre = [\"neck centre\", \"hem centre\"]", "centre = [\"neck centre\"]", 11, "not of 1"),
            ("lengthwise = \"3 %\"", "lengthwise = \"100 %\"", 12, "50 %"),
            ("{ px = [10, 20] }", "{ px = [10, 20, 30] }", 14, "not of 3"),
            ("{ px = [10, 20] }", "{ px = [10, 20], edge = \"hem\" }", 14, "one way"),
            ("runs = \"bias\"", "runs = \"askew\"", 15, "bias"),
            ("legs = [\"dart mouth\"]", "legs = []", 16, "legs"),
            ("intake = \"1 in\"", "intake = \"0 in\"", 20, "more than 0"),
            (
                "[\"dart mouth\"]",
                "[{ edge = \"waist\", at = \"60 mm\" }, { edge = \"armhole\", at = \"60 mm\" }]",
                16,
                "opens into one edge",
            ),
            ("[\"dart mouth\"]", "[{ edge = \"waist\", at = \"20 mm\" }, { edge = \"waist\", at = \"200 mm\" }]", 16, "180 mm apart"),
            (
                "between = [\"a\", \"b\"]\ndepth = \"20 mm\"\ncount = 3",
                "between = [{ edge = \"waist\", at = \"12 mm\" }, { edge = \"waist\", at = \"188 mm\" }]\ndepth = \"20 mm\"\ncount = 100",
                22,
                "1.8 mm apart",
            ),
            ("pressed = \"down\"", "pressed = \"flat\"", 21, "down"),
            ("count = 3", "count = 0", 27, "1 or more"),
            ("full = \"320 mm\"", "full = \"32 mm\"", 29, "longer"),
            ("at = \"62 mm\"", "at = \"-62 mm\"", 37, "0 mm or more"),
            ("at = \"62 mm\"", "on = \"62 mm\"", 37, "there is no"),
            ("\"sleeve: cap\"", "\"sleeve cap\"", 42, "names no edge"),
            ("ease = \"25 mm\"", "tolerance = \"-1 mm\"", 43, "0 mm or more"),
            ("reading = \"19 1/2 in\"", "reading = \"0 in\"", 46, "more than 0"),
            (
                "[[piece.front.pleat]]",
                "[[piece.front.dart]]\nname = \"bust\"\nlegs = [\"x\"]\npoint = \"y\"\n[[piece.front.pleat]]",
                22,
                "darts",
            ),
        ];
        for (good, bad, line, word) in cases {
            assert!(WHOLE.contains(good), "{good}");
            let e = Notes::from_text(&WHOLE.replacen(good, bad, 1)).expect_err(bad);
            assert!(e.words.contains(word), "{bad}: {e}");
            assert_eq!(e.line, line, "{bad}: {e}");
            assert!((15..=300).contains(&e.to_string().chars().count()), "{e}");
        }
    }
}
