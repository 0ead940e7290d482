//! Doubts: what may be wrong with a result that is still given, with what it may cost and what to do.

use crate::length::Mm;

/// A reason to look twice. Carries its numbers; the words are made in [`Doubt::say`].
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Doubt {
    /// Nobody said how high the visible edge stands above the sheet.
    ThicknessAssumed {
        /// Assumed height, mm.
        height: f64,
        /// How far the outline may be out for it, mm.
        cost: f64,
    },
    /// The squares seen do not fit the pitch that was told.
    PitchLooksDifferent {
        /// Pitch told, mm.
        told: f64,
        /// Pitch by the scanner's own resolution, mm, for a scan that gives it.
        seen: Option<f64>,
        /// How far away the camera would have been, mm, for a photograph.
        away: Option<f64>,
    },
    /// Every n-th line of the sheet is heavier, and the pitch told could be that of either ruling.
    FinerRuling {
        /// How many fine squares make a heavy one.
        parts: u32,
        /// Whether the pitch was taken for that of the finer lines.
        finer_taken: bool,
        /// Pitch told, mm.
        pitch: f64,
    },
    /// Two sheets lie side by side; the one with something on it was measured.
    AnotherSheet,
    /// Cloth lies over the sheet's edge.
    OverSheetEdge {
        /// About where it crosses.
        at: Mm,
    },
    /// Something on the sheet was not taken for a piece.
    ThingsLeftOut {
        /// Pieces taken.
        pieces: usize,
        /// Things left out.
        things: usize,
        /// Where the largest is.
        at: Mm,
    },
    /// Little of the sheet shows.
    SheetBarelySeen {
        /// Nodes seen.
        nodes: usize,
        /// About where.
        at: Mm,
    },
    /// An edge that could not be told well from what lies beside it.
    EdgeUnsure {
        /// What it is called, with its piece.
        edge: String,
        /// How far it may be out at its worst place, mm.
        bound: f64,
        /// That place.
        at: Mm,
    },
    /// Edges whose stitch line could not be seen.
    StitchLineNotSeen {
        /// What they are called.
        edges: Vec<String>,
        /// About the middle of the first.
        at: Mm,
    },
    /// Marks are told of, and none or fewer were found.
    MarksMiscounted {
        /// The word for several of them.
        kind: &'static str,
        /// How many names there are, 0 for any number.
        named: usize,
        /// How many were found.
        found: usize,
    },
    /// No line came to a place it was said to pass through.
    PassedBy {
        /// How far off the nearest is, mm.
        off: f64,
        /// The place.
        at: Mm,
    },
    /// An edge was said to be straight and is drawn so, but what was found is not.
    NotStraight {
        /// What it is called.
        edge: String,
        /// How far off the ruler's line it was found (95 %), mm.
        off: f64,
        /// About its middle.
        at: Mm,
    },
    /// Two corners between which an edge was said to be straight are no neighbours.
    EdgeNotThere {
        /// The corner it starts at.
        from: String,
        /// The corner it ends at.
        to: String,
    },
    /// A tape and a picture say different lengths.
    TapeDisagrees {
        /// The piece and its measure.
        what: String,
        /// What the tape says, flat, mm.
        taped: f64,
        /// What the picture says, mm.
        seen: f64,
        /// How far the trade lets a garment be out, mm.
        tolerance: f64,
    },
    /// Few pixels to the millimetre.
    LowResolution {
        /// Pixels per mm at the coarsest place of the outline.
        px_per_mm: f64,
        /// Where that is.
        at: Mm,
    },
    /// What a flat sheet does not explain is smooth and large.
    SheetNotFlat {
        /// Its greatest size, mm.
        most: f64,
        /// Where that is.
        at: Mm,
    },
    /// Nobody measured the sheet, so its pitch is known as well as printed sheets usually are.
    PitchNotMeasured {
        /// Relative standard error of the pitch.
        share: f64,
        /// What that may put a place of the outline out by, from the piece's middle, mm.
        cost: f64,
    },
    /// A scan's scale is what its file says; nothing on the bed checks it.
    ScaleByDpi {
        /// Dots to the inch along x and y.
        dpi: [f64; 2],
        /// Relative error that is carried (95 %).
        share: f64,
    },
    /// A scan's own resolution and the sheet's ruling differ.
    DpiMismatch {
        /// Dots to the inch as the file says, of the axis that differs more.
        told: f64,
        /// The same by the ruling.
        seen: f64,
    },
    /// So few places were given that nothing checks them.
    FewPlaces {
        /// How many.
        places: usize,
    },
    /// The lens profile that belongs to the picture does not fit it.
    LensProfileLeftOut {
        /// Its name.
        name: String,
    },
    /// The lens profile that was named does not fit the picture.
    LensProfileMisses {
        /// Its name.
        name: String,
        /// How far off the picture would have the lens, standard errors.
        miss: f64,
    },
    /// Neither tags nor perspective tell the focal length.
    FocalAssumed {
        /// Relative standard error of the focal length used.
        share: f64,
        /// Tilt of the camera, degrees.
        tilt: f64,
    },
}

/// Beyond it how far an edge may be out says no more than that it was not found, mm.
const CENTIMETRE: f64 = 10.0;

impl Doubt {
    /// Short fixed code for files, words joined by hyphens.
    pub fn code(&self) -> &'static str {
        match self {
            Self::ThicknessAssumed { .. } => "thickness-assumed",
            Self::OverSheetEdge { .. } => "over-sheet-edge",
            Self::ThingsLeftOut { .. } => "things-left-out",
            Self::EdgeUnsure { .. } => "edge-unsure",
            Self::StitchLineNotSeen { .. } => "stitch-line-not-seen",
            Self::MarksMiscounted { .. } => "marks-miscounted",
            Self::PassedBy { .. } => "passed-by",
            Self::NotStraight { .. } => "not-straight",
            Self::EdgeNotThere { .. } => "edge-not-there",
            Self::TapeDisagrees { .. } => "tape-disagrees",
            Self::LowResolution { .. } => "low-resolution",
            Self::PitchLooksDifferent { .. } => "pitch-looks-different",
            Self::FinerRuling { .. } => "finer-ruling",
            Self::AnotherSheet => "another-sheet",
            Self::SheetBarelySeen { .. } => "sheet-barely-seen",
            Self::SheetNotFlat { .. } => "sheet-not-flat",
            Self::PitchNotMeasured { .. } => "pitch-not-measured",
            Self::ScaleByDpi { .. } => "scale-by-dpi",
            Self::DpiMismatch { .. } => "dpi-mismatch",
            Self::FewPlaces { .. } => "few-places",
            Self::LensProfileLeftOut { .. } => "lens-profile-left-out",
            Self::LensProfileMisses { .. } => "lens-profile-misses",
            Self::FocalAssumed { .. } => "focal-assumed",
        }
    }

    /// The place it is about, when it has one.
    pub fn place(&self) -> Option<Mm> {
        match self {
            Self::ThicknessAssumed { .. }
            | Self::FocalAssumed { .. }
            | Self::PitchLooksDifferent { .. }
            | Self::FinerRuling { .. }
            | Self::AnotherSheet
            | Self::PitchNotMeasured { .. }
            | Self::LensProfileLeftOut { .. }
            | Self::ScaleByDpi { .. }
            | Self::DpiMismatch { .. }
            | Self::FewPlaces { .. }
            | Self::MarksMiscounted { .. }
            | Self::EdgeNotThere { .. }
            | Self::TapeDisagrees { .. }
            | Self::LensProfileMisses { .. } => None,
            Self::OverSheetEdge { at }
            | Self::ThingsLeftOut { at, .. }
            | Self::LowResolution { at, .. }
            | Self::EdgeUnsure { at, .. }
            | Self::StitchLineNotSeen { at, .. }
            | Self::PassedBy { at, .. }
            | Self::NotStraight { at, .. }
            | Self::SheetNotFlat { at, .. }
            | Self::SheetBarelySeen { at, .. } => Some(*at),
        }
    }

    /// What is in doubt and what to do about it, in one sentence or two.
    pub fn say(&self) -> String {
        match self {
            Self::ThicknessAssumed { height, cost } => format!(
                "The cloth's height was not given; {height:.1} mm was assumed, which may put the outline out by {cost:.1} mm. Hold a rule beside it and say --thickness."
            ),
            Self::OverSheetEdge { .. } => {
                "The cloth lies over the edge of the sheet here; beyond it nothing checks the scale. Lay more of the same ruling beside the sheet, or use a larger one.".into()
            }
            Self::ThingsLeftOut { pieces, things, .. } => format!(
                "{} taken and {} left out{}. Say --pieces to settle it.",
                count(*pieces, "piece was", "pieces were"),
                count(*things, "smaller thing", "smaller things"),
                if *things == 1 { "" } else { ", the largest of them here" }
            ),
            Self::EdgeUnsure { edge, bound, .. } => format!(
                "At its worst place {edge} is hard to tell from what lies beside it and may be out by {}. Look at the evidence picture there; use a sheet unlike the cloth and light from two sides.",
                if *bound > CENTIMETRE { "more than a centimetre".into() } else { format!("{bound:.1} mm") }
            ),
            Self::StitchLineNotSeen { edges, .. } => format!(
                "The stitch line could not be seen along {}; there the outer edge was moved in by the allowance. Light it from the side and take the picture again.",
                edges.join(", ")
            ),
            Self::MarksMiscounted { kind, found: 0, .. } => format!(
                "None of the {kind} that were told of was found. Look whether their colour is a strong one that neither cloth nor sheet has."
            ),
            Self::MarksMiscounted { kind, named, found } => format!(
                "The notes name {named} {kind} and {found} were found, so none has a name. Look whether one is hidden or of a colour that cloth or sheet has too."
            ),
            Self::PassedBy { off, .. } => format!(
                "No outline passes through this place, as the notes say one does; the nearest is {off:.1} mm off. Look at the evidence picture there."
            ),
            Self::NotStraight { edge, off, .. } => format!(
                "{edge} is drawn straight, as the notes say, but was found up to {off:.1} mm off that line. Look at the evidence picture there."
            ),
            Self::EdgeNotThere { from, to } => format!(
                "The notes tell of an edge from {from} to {to}, but no outline has these as neighbouring corners. Give both corners a place on it."
            ),
            Self::TapeDisagrees { what, taped, seen, tolerance } => format!(
                "{what}: the tape says {taped:.0} mm, the picture {seen:.0} mm, more apart than the trade's {tolerance:.1} mm. Measure it again, and look at where the picture took it."
            ),
            Self::LowResolution { px_per_mm, .. } => {
                format!("Only {px_per_mm:.1} pixels to the millimetre here. Come nearer or take the piece in two pictures.")
            }
            Self::PitchLooksDifferent { told, seen: Some(seen), .. } => format!(
                "By the scan's own resolution the squares are {seen:.2} mm apart, not {told:.2} mm as told. Measure the sheet; every length depends on it."
            ),
            Self::PitchLooksDifferent { told, away, .. } => format!(
                "If the squares are {told:.1} mm apart, the picture was taken from {:.2} m away, which is unusual. Perhaps the pitch told is that of every other ruling; measure the sheet.",
                away.unwrap_or(0.0) / 1000.0
            ),
            Self::FinerRuling { parts, finer_taken, pitch } => format!(
                "Between the heavier lines of the sheet finer ones make {parts} parts; the {} were taken to be {pitch:.1} mm apart. If it is the others, every length is wrong by {parts}: say the pitch of the {}, or a profile with heavy_every.",
                if *finer_taken { "finer" } else { "heavier" },
                if *finer_taken { "finer lines" } else { "heavier lines" },
            ),
            Self::AnotherSheet => {
                "Two ruled sheets lie side by side; the one with the garment on it was measured. Take the other away if the squares differ.".into()
            }
            Self::SheetBarelySeen { nodes, .. } => {
                format!("Of the sheet's ruling only {} can be seen. Show more of the sheet round the garment.", count(*nodes, "place", "places"))
            }
            Self::SheetNotFlat { most, .. } => {
                format!("The sheet is out of flat by {most:.1} mm here. Flatten the bare sheet beside the garment and take the picture again.")
            }
            Self::PitchNotMeasured { share, cost } => format!(
                "Nobody measured the sheet; its pitch may be out by {:.1} % as printed sheets are, which moves an edge by {cost:.1} mm on top of its bound. Lay a steel rule along many squares and write what you read in a sheet profile.",
                share * 100.0
            ),
            Self::ScaleByDpi { dpi: [x, y], share } => format!(
                "The scale is the file's own {x:.0} × {y:.0} dpi and nothing checks it; scanners are out by {:.1} % and more, which the bounds carry. Lay a ruled sheet behind the piece.",
                share * 100.0
            ),
            Self::DpiMismatch { told, seen } => format!(
                "The file says {told:.0} dpi, the sheet's ruling {seen:.1}: {:.1} % apart. The ruling was gone by; measure the sheet, for if the scanner is right every length is wrong.",
                (seen / told - 1.0).abs() * 100.0
            ),
            Self::FewPlaces { places } => format!(
                "The view rests on the {places} places pointed at by hand, so few that nothing checks them. Give six or more, well spread, or use a ruled sheet."
            ),
            Self::LensProfileLeftOut { name } => format!(
                "The lens profile {name} belongs to this camera but does not fit the picture, so it was left out. Use the camera's original, or solve the lens again."
            ),
            Self::LensProfileMisses { name, miss } => format!(
                "The lens profile {name} does not fit the picture: its sheet would have the lens {miss:.0} standard errors off. Use the lens the picture was taken with, or leave --lens out."
            ),
            Self::FocalAssumed { share, tilt } => format!(
                "At a tilt of {tilt:.0}° the picture cannot tell its focal length and the file says none that fits; the correction for the cloth's height may be {:.0} % wrong. Keep the camera's tags, or tilt the camera by 10°.",
                share * 100.0
            ),
        }
    }
}

fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
