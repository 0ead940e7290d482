//! The words of a garment's table.

use super::super::archive::{Garment, Said};

/// Parts of a record, each with its keys in order and what each is called.
const GROUPS: [(&str, &[(&str, &str)]); 4] = [
    (
        "The object",
        &[
            ("number", "Object or stock number"),
            ("accession", "Accession number"),
            ("kind", "Kind"),
            ("maker", "Maker"),
            ("date", "Date"),
            ("date_earliest", "Not before"),
            ("date_latest", "Not after"),
            ("date_certainty", "The dating is"),
            ("place", "Made at"),
            ("materials", "Materials"),
            ("size", "Size as labelled"),
            ("provenance", "Provenance"),
            ("holder", "Held by"),
            ("storage", "Kept at"),
            ("remarks", "Remarks"),
        ],
    ),
    (
        "State",
        &[
            ("condition", "Condition before recording"),
            ("condition_after", "Condition afterwards"),
            ("alterations", "Later alterations and repairs"),
            ("hazards", "Suspected hazards"),
            ("fragile", "Fragile"),
            ("child", "Made for a child"),
        ],
    ),
    (
        "How it was recorded",
        &[
            ("laid", "How it was laid and supported"),
            ("laid_by", "Laid by"),
            ("grain_by", "How the grain was identified"),
            ("not_recorded", "What was not recorded"),
            ("recorded_by", "Recorded by"),
            ("recorded_on", "Recorded on"),
        ],
    ),
    ("Use", &[("credit", "Credit line"), ("rights", "Rights"), ("access", "Permission and access")]),
];

/// Words that say where a thing is kept: never published.
const PLACES: [&str; 1] = ["storage"];
/// Words under names of one's own begin so in the record. Nobody can tell what stands there, so they are not published either.
pub(super) const OWN: &str = "more: ";

/// Whether a word may be published.
pub(super) fn public(key: &str) -> bool {
    !PLACES.contains(&key) && !key.starts_with(OWN)
}

/// A garment's words by part, each with what it is called; parts without any are left out. Words of no part come last.
pub(super) fn grouped(g: &Garment) -> Vec<(&'static str, Vec<(String, &Said)>)> {
    let told = |key: &str| g.told.iter().find(|s| s.key == key && !s.words.trim().is_empty());
    let mut out: Vec<(&str, Vec<(String, &Said)>)> = GROUPS
        .iter()
        .map(|(group, keys)| (*group, keys.iter().filter_map(|(key, called)| Some(((*called).to_owned(), told(key)?))).collect()))
        .collect();
    let known = |key: &str| key == "name" || GROUPS.iter().any(|(_, keys)| keys.iter().any(|(k, _)| *k == key));
    let others = g.told.iter().filter(|s| !known(&s.key)).map(|s| (s.key.strip_prefix(OWN).unwrap_or(&s.key).to_owned(), s));
    out.push(("Further words", others.collect()));
    out.retain(|(_, words)| !words.is_empty());
    out
}

/// What nobody wrote down, by name: a reader in twenty years should not take silence for "none".
pub(super) fn silent(g: &Garment) -> Vec<&'static str> {
    let asked = [
        "maker",
        "date",
        "materials",
        "provenance",
        "holder",
        "condition",
        "condition_after",
        "alterations",
        "hazards",
        "laid",
        "grain_by",
        "rights",
        "access",
    ];
    let called = |key: &str| GROUPS.iter().flat_map(|(_, keys)| keys.iter()).find(|(k, _)| *k == key).map(|(_, c)| *c);
    asked.into_iter().filter(|key| g.word(key).is_none()).filter_map(called).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notes::guide::{Asked, Guides};

    /// Whatever the blank record asks for has its place in a page.
    #[test]
    fn every_field_of_the_blank_record_has_a_name() {
        let text = Guides::built_in().blank(&Asked::default()).expect("no kind");
        let own = text.lines().skip_while(|l| *l != "[garment]").take_while(|l| !l.contains("[[shot]]"));
        let keys: Vec<&str> = own.filter_map(|l| Some(l.trim_start_matches('#').split_once(" = ")?.0)).collect();
        assert!(keys.len() > 20, "{keys:?}");
        for key in keys.iter().filter(|k| !["name", "stretch", "shrinkage"].contains(k)) {
            assert!(GROUPS.iter().any(|(_, all)| all.iter().any(|(k, _)| k == key)), "{key}");
        }
    }
}
