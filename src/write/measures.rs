//! The measures of a garment as a table: comma-separated values after RFC 4180, one line a measure.

use super::GarmentRecord;
use super::json::LAID_ONCE;
use crate::piece::names_measure;

/// The first line: what stands in each column.
const COLUMNS: [&str; 12] = [
    "garment",
    "piece",
    "measure",
    "side",
    "mm",
    "inches",
    "may be out by mm",
    "half of the way round",
    "how",
    "tape mm",
    "picture minus tape mm",
    "laid anew differs by mm",
];

/// The table's text. Lines end in CR LF, as the standard has it.
pub fn measures(record: &GarmentRecord) -> String {
    let mut out = String::new();
    line(&mut out, &COLUMNS.map(str::to_owned));
    for piece in &record.pieces {
        for m in &piece.measures {
            let own = |what: &str| names_measure(what, &m.name, m.side.as_deref());
            let tape = record.tape.iter().filter(|t| own(&t.what)).find_map(|t| t.against.iter().find(|a| a.piece == piece.name));
            line(
                &mut out,
                &[
                    record.id.clone(),
                    piece.name.clone(),
                    m.name.clone(),
                    m.side.clone().unwrap_or_default(),
                    format!("{:.1}", m.mm),
                    m.inches.trim_end_matches(" in").to_owned(),
                    m.bound_mm.map(|b| format!("{b:.1}")).unwrap_or_default(),
                    if m.half_round { "yes" } else { "no" }.into(),
                    if m.darts_closed_mm.is_some() { format!("{}, darts closed", m.source.how) } else { m.source.how.to_string() },
                    tape.map(|t| format!("{:.1}", t.seen_mm - t.off_mm)).unwrap_or_default(),
                    tape.map(|t| format!("{:.1}", t.off_mm)).unwrap_or_default(),
                    match m.laid_mm {
                        Some(off) => format!("{off:.1}"),
                        None if piece.laid_mm.is_some() => String::new(),
                        None => LAID_ONCE.into(),
                    },
                ],
            );
        }
    }
    out
}

/// One record: fields that hold a comma, a quote or a line break stand in quotes, and quotes within are doubled (RFC 4180, 2).
pub(crate) fn line(out: &mut String, fields: &[String]) {
    for (k, field) in fields.iter().enumerate() {
        if k > 0 {
            out.push(',');
        }
        if field.contains([',', '"', '\r', '\n']) {
            out.push('"');
            out.push_str(&field.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(field);
        }
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 4180, section 2, rules 5 to 7.
    #[test]
    fn as_the_standard_has_it() {
        let mut out = String::new();
        line(&mut out, &["aaa".into(), "b\r\nbb".into(), "ccc".into()]);
        line(&mut out, &["aaa".into(), "b\"bb".into(), "c,c".into()]);
        assert_eq!(out, "aaa,\"b\r\nbb\",ccc\r\naaa,\"b\"\"bb\",\"c,c\"\r\n");
    }
}
