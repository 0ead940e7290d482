//! The fixed code of each doubt, by which files call it, and its place.

use super::Doubt;
use crate::length::Mm;

impl Doubt {
    /// Short fixed code for files, words joined by hyphens.
    pub fn code(&self) -> &'static str {
        match self {
            Self::ThicknessAssumed { .. } => "thickness-assumed",
            Self::BareUnlike => "bare-unlike",
            Self::BurntOut { .. } => "too-bright",
            Self::OverSheetEdge { .. } => "over-sheet-edge",
            Self::ThingsLeftOut { .. } => "things-left-out",
            Self::EdgeUnsure { .. } => "edge-unsure",
            Self::Frayed { .. } => "frayed",
            Self::Crease { .. } => "crease",
            Self::Rolled { .. } => "rolled",
            Self::StitchLineNotSeen { .. } => "stitch-line-not-seen",
            Self::StitchLineElsewhere { .. } => "stitch-line-elsewhere",
            Self::SeamNotSeen { .. } => "seam-not-seen",
            Self::SeamOffCloth { .. } => "seam-off-cloth",
            Self::MarksMiscounted { .. } => "marks-miscounted",
            Self::PassedBy { .. } => "passed-by",
            Self::NotStraight { .. } => "not-straight",
            Self::EdgeNotThere { .. } => "edge-not-there",
            Self::CornerNowhere { .. } => "corner-nowhere",
            Self::TapeDisagrees { .. } => "tape-disagrees",
            Self::PicturesDisagree { .. } => "pictures-disagree",
            Self::LayingsMiss { .. } => "layings-miss",
            Self::RepeatDiffers { .. } => "repeat-differs",
            Self::NotCompared { .. } => "not-compared",
            Self::NotDrafted { .. } => "not-drafted",
            Self::Unanswered { .. } => "unanswered",
            Self::LowResolution { .. } => "low-resolution",
            Self::PitchLooksDifferent { .. } => "pitch-looks-different",
            Self::FinerRuling { .. } => "finer-ruling",
            Self::AnotherRuling { .. } => "another-ruling",
            Self::PitchAgainstCode { .. } => "pitch-against-code",
            Self::AnotherSheet => "another-sheet",
            Self::SheetBarelySeen { .. } => "sheet-barely-seen",
            Self::SheetNotFlat { .. } => "sheet-not-flat",
            Self::PagesOutOfPlace { .. } => "pages-out-of-place",
            Self::PitchNotMeasured { .. } => "pitch-not-measured",
            Self::ScaleByDpi { .. } => "scale-by-dpi",
            Self::UnitUnsure { .. } => "unit-unsure",
            Self::DpiMismatch { .. } => "dpi-mismatch",
            Self::FewPlaces { .. } => "few-places",
            Self::LensProfileLeftOut { .. } => "lens-profile-left-out",
            Self::LensProfileMisses { .. } => "lens-profile-misses",
            Self::LensOrSheet { .. } => "lens-or-sheet",
            Self::FocalAssumed { .. } => "focal-assumed",
        }
    }

    /// The place it is about, when it has one.
    pub fn place(&self) -> Option<Mm> {
        match self {
            Self::ThicknessAssumed { .. }
            | Self::FocalAssumed { .. }
            | Self::LensOrSheet { .. }
            | Self::PitchLooksDifferent { .. }
            | Self::FinerRuling { .. }
            | Self::AnotherRuling { .. }
            | Self::PitchAgainstCode { .. }
            | Self::AnotherSheet
            | Self::BareUnlike
            | Self::BurntOut { .. }
            | Self::PitchNotMeasured { .. }
            | Self::LensProfileLeftOut { .. }
            | Self::ScaleByDpi { .. }
            | Self::DpiMismatch { .. }
            | Self::UnitUnsure { .. }
            | Self::FewPlaces { .. }
            | Self::MarksMiscounted { .. }
            | Self::StitchLineElsewhere { .. }
            | Self::EdgeNotThere { .. }
            | Self::TapeDisagrees { .. }
            | Self::NotDrafted { .. }
            | Self::RepeatDiffers { .. }
            | Self::NotCompared { .. }
            | Self::Unanswered { .. }
            | Self::LensProfileMisses { .. } => None,
            Self::OverSheetEdge { at }
            | Self::ThingsLeftOut { at, .. }
            | Self::LowResolution { at, .. }
            | Self::EdgeUnsure { at, .. }
            | Self::Frayed { at, .. }
            | Self::Crease { at, .. }
            | Self::Rolled { at, .. }
            | Self::StitchLineNotSeen { at, .. }
            | Self::SeamNotSeen { at, .. }
            | Self::SeamOffCloth { at, .. }
            | Self::PassedBy { at, .. }
            | Self::CornerNowhere { at, .. }
            | Self::NotStraight { at, .. }
            | Self::LayingsMiss { at, .. }
            | Self::PicturesDisagree { at, .. }
            | Self::SheetNotFlat { at, .. }
            | Self::PagesOutOfPlace { at, .. }
            | Self::SheetBarelySeen { at, .. } => Some(*at),
        }
    }
}
