//! The report as a table.

use super::super::archive::{Garment, Outcome};
use super::super::gather::sentence;
use super::{Row, TRACE_AGAIN};
use crate::write::table_line;

/// The table after RFC 4180, one line a picture, in the order of the page.
pub(super) fn csv(rows: &[Row]) -> String {
    let mut text = String::new();
    let columns = [
        "picture",
        "garment",
        "number",
        "folder",
        "result",
        "worst edge may be out by mm",
        "at its worst place mm",
        "cut off",
        "px per mm",
        "tilt deg",
        "sheet found",
        "sheet",
        "pieces",
        "laid",
        "laid anew differs by mm",
        "doubts",
        "what to do",
    ];
    table_line(&mut text, &columns.map(str::to_owned));
    for row in rows {
        table_line(&mut text, &cells(row));
    }
    text
}

fn cells(row: &Row) -> Vec<String> {
    let p = row.picture;
    let garment = |f: &dyn Fn(&Garment) -> String| row.garment.map(f).unwrap_or_default();
    let mut cells = vec![
        inert(&p.title()),
        inert(&garment(&|g| g.title().to_owned())),
        inert(&garment(&|g| g.id.clone())),
        inert(&p.path),
        row.standing.word().into(),
    ];
    let number = |v: Option<f64>, digits: usize| v.map(|v| format!("{v:.digits$}")).unwrap_or_default();
    match &p.result {
        Outcome::Traced(f) => {
            let codes: Vec<&str> = f.doubts.iter().map(|d| d.code.as_str()).collect();
            let says: Vec<&str> = f.doubts.iter().map(|d| d.say.as_str()).collect();
            cells.extend([number(f.out_mm, 2), number(Some(f.worst_place_mm), 2), if f.cut_off { "yes" } else { "no" }.into()]);
            cells.extend([number(f.px_per_mm, 2), number(f.tilt_deg, 1), number(Some(f.coverage), 3), inert(&f.sheet)]);
            cells.extend([inert(&f.pieces.join("; ")), inert(f.laid.as_deref().unwrap_or_default()), number(f.laid_mm, 2)]);
            cells.extend([inert(&codes.join("; ")), inert(&says.join(" "))]);
        }
        Outcome::Failed(say) => {
            cells.extend(vec![String::new(); 11]);
            cells.push(inert(&sentence(say)));
        }
        Outcome::Unread(say) => {
            cells.extend(vec![String::new(); 11]);
            cells.push(inert(&format!("The record {say}. {TRACE_AGAIN}")));
        }
    }
    cells
}

/// Words that a spreadsheet would take for a formula begin with an apostrophe, as its own users write them.
fn inert(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::super::super::archive::{Figures, Picture};
    use super::super::super::standing::Standing;
    use super::*;

    #[test]
    fn every_line_has_every_column() {
        let results = [
            Outcome::Traced(Box::new(Figures { out_mm: Some(0.1), pieces: vec!["front".into()], ..Figures::default() })),
            Outcome::Unread("is damaged at line 1".into()),
            Outcome::Failed("=is too dark".into()),
        ];
        let pictures = results.map(|result| Picture { path: "front".into(), of: vec!["front.jpg".into()], result, files: Vec::new() });
        let rows = pictures.each_ref().map(|picture| Row { garment: None, picture, standing: Standing::of(picture) });
        let width = csv(&rows).lines().next().expect("a head").split(',').count();
        assert_eq!(rows.each_ref().map(|r| cells(r).len()), [width; 3]);
        assert_eq!(inert("=1+1"), "'=1+1");
    }
}
