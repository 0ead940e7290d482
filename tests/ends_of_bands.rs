//! Where a band ends, no line runs on across its seam.

mod given;
mod straight;

use given::{draft, notes};
use ruboff::piece::{Layer, joins};
use straight::lines;

/// A panel whose sides flare, so that waist and side make 97° at either end; its hem is level.
fn panel() -> Layer {
    lines(&[
        ("waist left", "waist", [0.0, 0.0]),
        ("waist right", "side right", [200.0, 0.0]),
        ("hem right", "hem", [275.0, 600.0]),
        ("hem left", "side left", [-75.0, 600.0]),
    ])
}

/// A strip as long as the panel's waist.
fn strip() -> Layer {
    lines(&[
        ("top left", "upper edge", [0.0, 0.0]),
        ("top right", "end right", [200.0, 0.0]),
        ("bottom right", "lower edge", [200.0, 40.0]),
        ("bottom left", "end left", [0.0, 40.0]),
    ])
}

/// The end of a waistband, cuff or rib against a side makes neither point nor dent, whatever says what it is; a yoke's side runs on into the panel's, and two
/// panels' hems into one another.
#[test]
fn the_end_of_a_band_is_no_line_across_its_seam() {
    let rough = |strip_is: &str, table: &str| {
        let text = format!(
            "{table}\n[[join]]\nedges = [\"{strip_is}: lower edge\", \"front: waist\"]\nmeet = [\"{strip_is}: bottom left\", \"front: waist left\"]\n"
        );
        let said = notes(&text);
        let pieces = [draft("front", &panel(), &said).piece, draft(strip_is, &strip(), &said).piece];
        let joined = joins(&said, &pieces).remove(0).expect("walked");
        assert_eq!(joined.walked.across.len(), 2, "{strip_is}");
        joined.rough.len()
    };
    assert_eq!(rough("waistband", ""), 0);
    assert_eq!(rough("strip", "[piece.strip]\nkind = \"cuff\"\n"), 0);
    assert_eq!(rough("strip", "[piece.strip]\nrelaxed = \"180 mm\"\n"), 0);
    assert_eq!(rough("yoke", ""), 2);
    assert_eq!(rough("strip", ""), 2);
    let said = notes("[[join]]\nedges = [\"front: side right\", \"back: side left\"]\nmeet = [\"front: hem right\", \"back: hem left\"]\n");
    let pieces = [draft("front", &panel(), &said).piece, draft("back", &panel(), &said).piece];
    assert_eq!(joins(&said, &pieces).remove(0).expect("walked").rough.len(), 2);
}
