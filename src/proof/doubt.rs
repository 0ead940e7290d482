//! Doubts: what may be wrong with a result that is still given, with what it may cost. Their words are made in `say`.

use super::Cause;
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
    /// All lines of the sheet are alike, and another pitch than was told is much likelier by what the picture shows.
    AnotherRuling {
        /// Pitch told, mm.
        told: f64,
        /// The likelier one, mm.
        likelier: f64,
        /// How far away the camera would have been by either, mm, for a photograph.
        away: Option<[f64; 2]>,
    },
    /// Two sheets lie side by side; the one with something on it was measured.
    AnotherSheet,
    /// The picture of the bare sheet does not fit the garment's, and was left out.
    BareUnlike,
    /// The sheet beside the cloth is burnt out to white.
    BurntOut {
        /// Share of the places beside the rim.
        share: f64,
        /// What it may put the edge out by, mm.
        cost: f64,
    },
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
    /// A place of an outline that is known much worse than the rest of it.
    EdgeUnsure {
        /// Which edge of which piece, and where on it, in words.
        place: String,
        /// How far it may be out there (95 %), mm.
        bound: f64,
        /// Why, what weighs most first.
        causes: Vec<Cause>,
        /// The place.
        at: Mm,
    },
    /// An edge of cloth that is frayed or lace-like.
    Frayed {
        /// What it is called, with its piece.
        edge: String,
        /// How far it wanders about the line drawn, mm (standard deviation).
        rough: f64,
        /// About its middle.
        at: Mm,
    },
    /// A crease that runs into the outline.
    Crease {
        /// Which edge of which piece, and where on it, in words.
        place: String,
        /// Cloth that it takes up, mm.
        cost: f64,
        /// Where it meets the outline.
        at: Mm,
    },
    /// An edge curls: the rim that is seen is that of a roll.
    Rolled {
        /// Which edge of which piece, and where on it, in words.
        place: String,
        /// How long it was seen, mm.
        long: f64,
        /// Cloth that may lie in the roll beyond what is seen, mm.
        cost: f64,
        /// About its middle.
        at: Mm,
    },
    /// A seam within the piece does not stand out from the cloth.
    SeamNotSeen {
        /// What it is called.
        seam: String,
        /// Along this share of its length.
        share: f64,
        /// About the middle of where it is not seen.
        at: Mm,
    },
    /// A seam within was asked for where no piece lies, and is left out.
    SeamOffCloth {
        /// What it is called.
        seam: String,
        /// About its middle.
        at: Mm,
    },
    /// Edges whose stitch line could not be seen.
    StitchLineNotSeen {
        /// What they are called.
        edges: Vec<String>,
        /// About the middle of the first.
        at: Mm,
    },
    /// Hardly any stitch line is seen about the allowance told, and one is elsewhere.
    StitchLineElsewhere {
        /// How far inside the outer edge, mm.
        allowance: f64,
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
    /// A pitch was told that is not the one the sheet's own code says.
    PitchAgainstCode {
        /// Pitch told, mm.
        told: f64,
        /// Pitch by the code, mm.
        coded: f64,
    },
    /// Two corners between which an edge was said to be straight are no neighbours.
    EdgeNotThere {
        /// The corner it starts at.
        from: String,
        /// The corner it ends at.
        to: String,
    },
    /// A named corner lies where no outline runs.
    CornerNowhere {
        /// What it is called.
        corner: String,
        /// How far off the nearest outline is, mm.
        off: f64,
        /// The place.
        at: Mm,
    },
    /// A tape and a picture say different lengths.
    TapeDisagrees {
        /// The piece and its measure.
        what: String,
        /// What the tape says, flat unless it is held against something that runs all round too, mm.
        taped: f64,
        /// What was read on it, mm, where it was held all round.
        round: Option<f64>,
        /// What the picture says, mm.
        seen: f64,
        /// How far the trade lets a garment be out, mm.
        tolerance: f64,
    },
    /// Joined pictures have a line further apart than their errors allow.
    PicturesDisagree {
        /// The piece.
        piece: String,
        /// How far (95 %), mm.
        apart: f64,
        /// What their errors allow, mm.
        allowed: f64,
        /// Where it is worst.
        at: Mm,
    },
    /// A named point of two layings that a piece is put together from lies apart.
    LayingsMiss {
        /// Its name.
        point: String,
        /// How far apart, mm.
        off: f64,
        /// What the errors of both allow, mm.
        allowed: f64,
        /// Where.
        at: Mm,
    },
    /// Two pictures of one laying differ by more than the tool is out.
    RepeatDiffers {
        /// The piece.
        piece: String,
        /// How far they lie apart (95 %), mm.
        off: f64,
        /// What both bounds allow, mm.
        allowed: f64,
    },
    /// Several pictures of a piece could not be compared, or nothing made of them.
    NotCompared {
        /// The piece.
        piece: String,
        /// Why, and what to do.
        what: String,
    },
    /// The notes ask for something in a piece that could not be drafted.
    NotDrafted {
        /// The piece.
        piece: String,
        /// What, why, and what to do.
        what: String,
    },
    /// The notes speak of something that no picture shows.
    Unanswered {
        /// What, with the name the notes have for it.
        what: String,
        /// Whether there is such a thing, and only these pictures do not show it so that it could be taken.
        known: bool,
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
    /// Pages of a sheet were joined out of place; each was taken for itself.
    PagesOutOfPlace {
        /// The largest step at a join, mm.
        most: f64,
        /// Where.
        at: Mm,
        /// The pages there.
        between: [String; 2],
    },
    /// Nobody measured the sheet, so its pitch is known as well as printed sheets usually are.
    PitchNotMeasured {
        /// Relative standard error of the pitch.
        share: f64,
        /// What that may put a place of the outline out by, from the piece's middle, mm.
        cost: f64,
        /// Number of a coded sheet, which has rulers of its own.
        number: Option<u32>,
    },
    /// A scan's scale is what its file says; nothing on the bed checks it.
    ScaleByDpi {
        /// Dots to the inch along x and y.
        dpi: [f64; 2],
        /// Relative error that is carried (95 %).
        share: f64,
        /// Pitch that was told of a ruling which is not there, mm.
        unused: Option<f64>,
        /// Whether it is a resolution that programs write when they do not know any.
        not_known: bool,
    },
    /// Places that a person gave make a camera or a garment of an unusual size.
    UnitUnsure {
        /// How far away the camera would have been, mm, where that is unusual.
        away: Option<f64>,
        /// How long the longest piece would be, mm, where that is unusual.
        size: Option<f64>,
    },
    /// A scan's own resolution differs from that of the sheet's ruling, or of the places given.
    DpiMismatch {
        /// Dots to the inch along x and y as the file says.
        told: [f64; 2],
        /// The same by ruling or places, of each axis that differs.
        seen: [Option<f64>; 2],
        /// Whether by places.
        places: bool,
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
    /// The sheet's squares look oblong through the lens that was believed: it is another lens, or they are.
    LensOrSheet {
        /// Focal length by the tags, mm on 24 × 36 mm film; `None` where a usual one was assumed.
        told: Option<f64>,
        /// Focal length that makes the squares square, the same way.
        seen: f64,
        /// Share by which the sheet is longer along x than along y through the lens that was believed.
        share: f64,
        /// Whether the sheet was taken to be so; else the lens was taken to be another.
        sheet: bool,
        /// How far outlines by either lie apart, mm.
        cost: f64,
    },
    /// Neither tags nor perspective tell the focal length.
    FocalAssumed {
        /// Relative standard error of the focal length used.
        share: f64,
        /// Tilt of the camera, degrees.
        tilt: f64,
    },
}
