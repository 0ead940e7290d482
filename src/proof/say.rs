//! The words of each doubt: what is in doubt, what it may cost, what to do about it.

use super::{Cause, Doubt};

/// Beyond it how far an edge may be out says no more than that it was not found, mm.
const CENTIMETRE: f64 = 10.0;

impl Doubt {
    /// What is in doubt and what to do about it, in one sentence or two.
    pub fn say(&self) -> String {
        match self {
            Self::ThicknessAssumed { height, cost } => thickness_assumed(*height, *cost),
            Self::BareUnlike => BARE_UNLIKE.into(),
            Self::BurntOut { share, cost } => format!(
                "The picture is too bright: {:.0} % of the sheet beside the cloth is burnt out to white, which may put an edge out by {cost:.2} mm, and no ruling tells there where sheet is bare. Turn off the flash, take lamps away, or slide the exposure down; look at the outline.",
                share * 100.0
            ),
            Self::OverSheetEdge { .. } => OVER_SHEET_EDGE.into(),
            Self::ThingsLeftOut { pieces, things, .. } => things_left_out(*pieces, *things),
            Self::EdgeUnsure { place, bound, causes, .. } => edge_unsure(place, *bound, causes),
            Self::Frayed { edge, rough, .. } => frayed(edge, *rough),
            Self::Crease { place, cost, .. } => crease(place, *cost),
            Self::Rolled { place, long, cost, .. } => rolled(place, *long, *cost),
            Self::StitchLineNotSeen { edges, .. } => stitch_line_not_seen(edges),
            Self::SeamNotSeen { seam, share, .. } => format!(
                "Along {:.0} % of {seam} no seam stands out from the cloth; what is drawn there may be the cloth's own. Check its ends, give points between, or light it from the side.",
                share * 100.0
            ),
            Self::StitchLineElsewhere { allowance } => format!(
                "Hardly any stitch line is seen at the allowance told, and a line is about {allowance:.1} mm inside the outer edge. Measure the allowance; if that is the stitch line, trace again with --allowance {allowance:.1}mm."
            ),
            Self::SeamOffCloth { seam, .. } => {
                format!(
                    "{seam} was asked for where no piece lies, and is left out. Look at its places: pixels count from the upper left-hand corner of the upright picture."
                )
            }
            Self::MarksMiscounted { kind, named, found } => marks_miscounted(kind, *named, *found),
            Self::PassedBy { off, .. } => passed_by(*off),
            Self::NotStraight { edge, off, .. } => not_straight(edge, *off),
            Self::EdgeNotThere { from, to } => edge_not_there(from, to),
            Self::CornerNowhere { corner, off, .. } => corner_nowhere(corner, *off),
            Self::TapeDisagrees { what, taped, round, seen, tolerance } => tape_disagrees(what, (*taped, *round), *seen, *tolerance),
            Self::PicturesDisagree { piece, apart, allowed, .. } => pictures_disagree(piece, *apart, *allowed),
            Self::LayingsMiss { point, off, allowed, .. } => layings_miss(point, *off, *allowed),
            Self::RepeatDiffers { piece, off, allowed } => repeat_differs(piece, *off, *allowed),
            Self::NotCompared { piece, what } => format!("{piece}: its pictures were not compared: {what}."),
            Self::NotDrafted { piece, what } => format!("{piece}: {what}."),
            Self::Unanswered { what, known: true } => format!(
                "The notes have a tape reading of the {what}, and it can't be taken from these pictures, so the two are not compared. Name the corners between which it lies, or picture the piece so that they show."
            ),
            Self::Unanswered { what, .. } => {
                format!(
                    "The notes name the {what}, and nothing in these pictures answers to it. Look at the spelling, or take the picture that shows it."
                )
            }
            Self::LowResolution { px_per_mm, .. } => low_resolution(*px_per_mm),
            Self::PitchLooksDifferent { told, seen: Some(seen), .. } => pitch_by_scan(*told, *seen),
            Self::PitchLooksDifferent { told, away, .. } => pitch_by_distance(*told, away.unwrap_or(0.0)),
            Self::FinerRuling { parts, finer_taken, pitch } => finer_ruling(*parts, *finer_taken, *pitch),
            Self::AnotherRuling { told, likelier, away } => another_ruling(*told, *likelier, *away),
            Self::PitchAgainstCode { told, coded } => format!(
                "Squares of {told:.2} mm were told, but the sheet's own code says {coded:.1} mm, and that was used. Leave --pitch out; what a tape says of the print belongs to ruboff sheet --measured."
            ),
            Self::AnotherSheet => ANOTHER_SHEET.into(),
            Self::SheetBarelySeen { nodes, .. } => sheet_barely_seen(*nodes),
            Self::SheetNotFlat { most, .. } => sheet_not_flat(*most),
            Self::PagesOutOfPlace { most, between: [a, b], .. } => format!(
                "The sheet's pages are joined out of place, by {most:.1} mm between {a} and {b}. Each page was taken for itself, so lengths within it are right; across a join hidden by the garment they rest on what is seen of it. Join them again."
            ),
            Self::PitchNotMeasured { share, cost, number } => pitch_not_measured(*share, *cost, *number),
            Self::ScaleByDpi { dpi, share, unused, not_known } => scale_by_dpi(*dpi, *share, *unused, *not_known),
            Self::UnitUnsure { away, size } => unit_unsure(*away, *size),
            Self::DpiMismatch { told, seen, places } => dpi_mismatch(*told, *seen, *places),
            Self::FewPlaces { places } => few_places(*places),
            Self::LensProfileLeftOut { name } => lens_profile_left_out(name),
            Self::LensProfileMisses { name, miss } => lens_profile_misses(name, *miss),
            Self::LensOrSheet { told, seen, share, sheet, cost } => lens_or_sheet(*told, *seen, *share, *sheet, *cost),
            Self::FocalAssumed { share, tilt } => focal_assumed(*share, *tilt),
        }
    }
}

const OVER_SHEET_EDGE: &str = "The cloth lies over the edge of the sheet here; beyond it nothing checks the scale. Lay more of the same ruling beside the sheet, or use a larger one.";
const BARE_UNLIKE: &str = "The picture of the bare sheet does not show this sheet as it lies here, and was left out. Take both from one place, in the same light, and leave sheet and tissue where they are when the garment is laid.";
const ANOTHER_SHEET: &str =
    "Two ruled sheets lie side by side; the one with the garment on it was measured. Take the other away if the squares differ.";

fn thickness_assumed(height: f64, cost: f64) -> String {
    format!(
        "The cloth's height was not given; {height:.1} mm was assumed, which may put the outline out by {cost:.1} mm. Hold a rule beside it and say --thickness."
    )
}

fn things_left_out(pieces: usize, things: usize) -> String {
    let pieces = count(pieces, "piece was", "pieces were");
    let most = if things == 1 { "" } else { ", the largest of them here" };
    format!("{pieces} taken and {} left out{most}. Say --pieces to settle it.", count(things, "smaller thing", "smaller things"))
}

fn edge_unsure(place: &str, bound: f64, causes: &[Cause]) -> String {
    let out = if bound > CENTIMETRE { "more than a centimetre".into() } else { format!("{bound:.1} mm") };
    let why: Vec<&str> = causes.iter().map(|c| c.why()).collect();
    let because = if why.is_empty() { String::new() } else { format!(", because {}", why.join(" and ")) };
    let advice = causes.first().map_or("Look at the evidence picture there.", |c| c.advice());
    format!("The outline may be out by {out} {place}{because}. {advice}")
}

fn frayed(edge: &str, rough: f64) -> String {
    format!(
        "Frayed or lace-like: the cloth's edge wanders by {rough:.1} mm about the line drawn along {edge}, which is the one a hand would smooth. Decide whether threads or points beyond it belong to the piece."
    )
}

fn crease(place: &str, cost: f64) -> String {
    format!(
        "A crease or pull runs into the outline {place} and takes up about {cost:.1} mm of cloth there. Measure across it, or take another picture in which the cloth lies smooth."
    )
}

fn rolled(place: &str, long: f64, cost: f64) -> String {
    format!(
        "The cloth seems to roll over {place}, along {long:.0} mm: the line drawn is the roll's, and up to {cost:.0} mm of cloth may lie in it. Measure the edge unrolled, or smooth it and take the picture again; leave fragile cloth as it lies and note what is hidden."
    )
}

fn stitch_line_not_seen(edges: &[String]) -> String {
    format!(
        "The stitch line could not be seen along {}; there the outer edge was moved in by the allowance. Light it from the side and take the picture again.",
        edges.join(", ")
    )
}

fn marks_miscounted(kind: &str, named: usize, found: usize) -> String {
    if found == 0 {
        return format!(
            "None of the {kind} that were told of was found. Look whether their colour is a strong one that neither cloth nor sheet has."
        );
    }
    format!(
        "The notes name {named} {kind} and {found} were found, so none has a name. Look whether one is hidden or of a colour that cloth or sheet has too."
    )
}

fn passed_by(off: f64) -> String {
    format!(
        "No outline passes through this place, as the notes say one does; the nearest is {off:.1} mm off. Look at the evidence picture there."
    )
}

fn not_straight(edge: &str, off: f64) -> String {
    format!(
        "{edge} is drawn straight, as the notes say, but was found up to {off:.1} mm off that line. Look at the evidence picture there."
    )
}

fn edge_not_there(from: &str, to: &str) -> String {
    format!(
        "The notes tell of an edge from {from} to {to}, but no outline has these as neighbouring corners. Give both corners a place on it."
    )
}

fn corner_nowhere(corner: &str, off: f64) -> String {
    format!("The corner {corner} lies {off:.0} mm from the nearest outline, so nothing was made of it. Give its place on the edge.")
}

fn tape_disagrees(what: &str, (taped, round): (f64, Option<f64>), seen: f64, tolerance: f64) -> String {
    let says = match round {
        Some(read) if (read - taped).abs() > 0.05 => {
            format!("{read:.0} mm all round, which is {taped:.0} mm flat, the picture {seen:.0} mm flat")
        }
        Some(read) => format!("{read:.0} mm all round, the picture {seen:.0} mm"),
        None => format!("{taped:.0} mm, the picture {seen:.0} mm"),
    };
    format!(
        "{what}: the tape says {says}, more apart than the trade's {tolerance:.1} mm. Measure it again, and look at where the picture took it."
    )
}

fn pictures_disagree(piece: &str, apart: f64, allowed: f64) -> String {
    format!(
        "{piece}: where the joined pictures overlap they have its outline {apart:.1} mm apart, more than the {allowed:.1} mm they may be out by. Was the garment or the sheet moved between them, or does the sheet not lie flat? Take them again, or trace the pictures one by one."
    )
}

fn layings_miss(point: &str, off: f64, allowed: f64) -> String {
    format!(
        "At {point} the layings that the piece is put together from lie {off:.1} mm apart, more than the {allowed:.1} mm that pictures are out by: the cloth lay differently there. Share the difference as you would on the table, or lay that part again."
    )
}

fn repeat_differs(piece: &str, off: f64, allowed: f64) -> String {
    format!(
        "{piece}: two pictures of one laying lie {off:.1} mm apart, more than the {allowed:.1} mm they may be out by. If the garment was moved between them, say that they are two layings; else look at both evidence pictures."
    )
}

fn low_resolution(px_per_mm: f64) -> String {
    format!("Only {px_per_mm:.1} pixels to the millimetre here. Come nearer or take the piece in two pictures.")
}

fn pitch_by_scan(told: f64, seen: f64) -> String {
    format!(
        "By the scan's own resolution the squares are {seen:.2} mm apart, not {told:.2} mm as told. Measure the sheet; every length depends on it."
    )
}

fn pitch_by_distance(told: f64, away: f64) -> String {
    format!(
        "If the squares are {told:.1} mm apart, the picture was taken from {:.2} m away, which is unusual. Perhaps the pitch told is that of every other ruling; measure the sheet.",
        away / 1000.0
    )
}

fn another_ruling(told: f64, likelier: f64, away: Option<[f64; 2]>) -> String {
    let times = (told / likelier).max(likelier / told);
    let other = if likelier < told { "a finer" } else { "a coarser" };
    let how = away.map_or_else(String::new, |[by_told, by_other]| {
        format!(": the camera would have been {:.1} m away, and {:.1} m then", by_told / 1000.0, by_other / 1000.0)
    });
    format!(
        "All lines of the sheet are alike and were taken to be {told:.1} mm apart, as told, but {other} ruling such as {likelier:.1} mm is much likelier{how}. If it is that, every length is {times:.0} times out: measure from one line to the next."
    )
}

fn finer_ruling(parts: u32, finer_taken: bool, pitch: f64) -> String {
    let [taken, other] = if finer_taken { ["finer", "finer lines"] } else { ["heavier", "heavier lines"] };
    format!(
        "Between the heavier lines of the sheet finer ones make {parts} parts; the {taken} were taken to be {pitch:.1} mm apart. If it is the others, every length is {parts} times out: say the pitch of the {other}, or a profile with heavy_every."
    )
}

fn sheet_barely_seen(nodes: usize) -> String {
    format!("Of the sheet's ruling only {} can be seen. Show more of the sheet round the garment.", count(nodes, "place", "places"))
}

/// `share` is that of x over y; the taken explanation comes first.
fn lens_or_sheet(told: Option<f64>, seen: f64, share: f64, sheet: bool, cost: f64) -> String {
    let lens = match told {
        Some(told) => format!("The file tells a lens of {told:.0} mm"),
        None => "The file does not tell its lens, and a phone's usual one was assumed".into(),
    };
    let (longer, shorter) = if share > 0.0 { ("across", "down") } else { ("down", "across") };
    let oblong = format!("the squares are {:.2} % longer {longer} than {shorter}", 100.0 * share.abs());
    let other = format!("they are square and the lens is one of {seen:.0} mm, or the picture was cut");
    let (taken, left) =
        if sheet { (oblong, other) } else { (other.replacen("they", "the squares", 1), oblong.replacen("the squares", "they", 1)) };
    format!(
        "{lens} (as on 35 mm film), which does not fit this sheet: either {taken}, which was taken, or {left}. The outlines of the two differ by {cost:.1} mm. Lay a steel rule along many squares both ways and write what you read in a sheet profile."
    )
}

fn sheet_not_flat(most: f64) -> String {
    format!("The sheet is out of flat by {most:.1} mm here. Flatten the bare sheet beside the garment and take the picture again.")
}

fn pitch_not_measured(share: f64, cost: f64, number: Option<u32>) -> String {
    if let Some(number) = number {
        return format!(
            "Nobody measured the print of sheet {number}; it may be out by {:.1} % as printed sheets are, which moves an edge by {cost:.1} mm on top of its bound. Tape its two long rulers and keep what you read: ruboff sheet --measured.",
            share * 100.0
        );
    }
    format!(
        "Nobody measured the sheet; its pitch may be out by {:.1} % as printed sheets are, which moves an edge by {cost:.1} mm on top of its bound. Lay a steel rule along many squares and write what you read in a sheet profile.",
        share * 100.0
    )
}

fn scale_by_dpi([x, y]: [f64; 2], share: f64, unused: Option<f64>, not_known: bool) -> String {
    if not_known {
        return format!(
            "The scale is the file's own {x:.0} dpi, which programs write when they do not know any, so lengths may be out several times over. Measure the piece once with a rule, give places with --at, or lay a ruled sheet behind it."
        );
    }
    let (unused, advice) = match unused {
        Some(pitch) => (
            format!("No ruling was found, so the pitch of {pitch:.1} mm that was told had no part in it. "),
            "Say what the sheet shows with --sheet, or leave --pitch out if there is none.",
        ),
        None => (String::new(), "Lay a ruled sheet behind the piece."),
    };
    format!(
        "{unused}The scale is the file's own {x:.0} × {y:.0} dpi and nothing checks it; scanners are out by {:.1} % and more, which the bounds carry. {advice}",
        share * 100.0
    )
}

fn unit_unsure(away: Option<f64>, size: Option<f64>) -> String {
    let camera = away.map(|a| format!("the picture was taken from {:.2} m away", a / 1000.0));
    let piece = size.map(|s| format!("the longest piece is {s:.0} mm"));
    let both: Vec<String> = camera.into_iter().chain(piece).collect();
    format!(
        "By the places given with --at {}, which is unusual. Check their unit: numbers without one are mm, and cm or inches are written 12cm, 5in.",
        both.join(" and ")
    )
}

fn dpi_mismatch(told: [f64; 2], seen: [Option<f64>; 2], places: bool) -> String {
    let (by, what, advice) = match places {
        true => ("the places given", "They were gone by", "measure them again"),
        false => ("the sheet's ruling", "The ruling was gone by", "measure the sheet"),
    };
    let axes: Vec<String> = ["along x", "along y"]
        .iter()
        .zip(told.iter().zip(seen))
        .filter_map(|(axis, (told, seen))| Some((axis, told, seen?)))
        .map(|(axis, told, seen)| {
            format!("{axis} the file says {told:.0} dpi and {by} {seen:.1}, {:.1} % apart", (seen / told - 1.0).abs() * 100.0)
        })
        .collect();
    let axes = axes.join("; ");
    let (first, rest) = axes.split_at(1);
    format!("{}{rest}. {what}; {advice}, for if the scanner is right every length is wrong.", first.to_uppercase())
}

fn few_places(places: usize) -> String {
    format!(
        "The view rests on the {places} places pointed at by hand, so few that nothing checks them. Give six or more, well spread, or use a ruled sheet."
    )
}

fn lens_profile_left_out(name: &str) -> String {
    format!(
        "The lens profile {name} belongs to this camera but does not fit the picture, so it was left out. Use the camera's original, or solve the lens again."
    )
}

fn lens_profile_misses(name: &str, miss: f64) -> String {
    format!(
        "The lens profile {name} does not fit the picture: its sheet would have the lens {miss:.0} standard errors off. Use the lens the picture was taken with, or leave --lens out."
    )
}

fn focal_assumed(share: f64, tilt: f64) -> String {
    format!(
        "At a tilt of {tilt:.0}° the picture cannot tell its focal length and the file says none that fits; the correction for the cloth's height may be {:.0} % wrong. Keep the camera's tags, or tilt the camera by 10°.",
        share * 100.0
    )
}

fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Mm;

    #[test]
    fn a_place_is_told_with_what_it_costs_why_and_what_to_do() {
        let doubt = |bound, causes| Doubt::EdgeUnsure { place: "on the left edge".into(), bound, causes, at: Mm::default() };
        let both = doubt(1.24, vec![Cause::Shadow, Cause::Corner]).say();
        assert_eq!(
            both,
            "The outline may be out by 1.2 mm on the left edge, because the sheet beside it lies in shadow and the corner is rounded off. Light it from two sides."
        );
        assert!(doubt(40.0, Vec::new()).say().starts_with("The outline may be out by more than a centimetre on the left edge. Look"));
    }
}
