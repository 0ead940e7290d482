//! What a picture's piece is called.

use super::error::MendError;
use super::write::Where;
use crate::notes::{Draft, Word, alike};

/// The name of a piece to which nobody gave one, where it is alone in its picture.
const UNNAMED: &str = "piece 1";

/// Calls the piece of a picture by a name, or takes its name away; what the notes tell of the piece goes along, unless another picture
/// still shows one of that name. `alone` where the picture is to show one piece only.
pub(super) fn called(at: &Where, draft: &mut Draft, name: Option<&str>, alone: bool) -> Result<(), MendError> {
    let old = at.notes.piece.as_deref().map(str::trim);
    if old == name {
        return Ok(());
    }
    let several = at.record.map_or(at.notes.pieces.is_some_and(|n| n > 1), |r| r.pieces.len() > 1);
    if name.is_some() && several && !alone {
        let why = "this picture shows several pieces, which one name can't tell apart; leave the others out, or take a picture of each";
        return Err(MendError::Value { what: "piece", why: why.into() });
    }
    draft.set_shot(at.picture, "piece", name.map(Word::Text))?;
    let (was, now) = (old.unwrap_or(UNNAMED), name.unwrap_or(UNNAMED));
    // A number may be that of another picture's piece.
    let numbered = at.all.len() > 1 && (old.is_none() || name.is_none());
    let shown = draft.notes()?.shots.iter().filter_map(|s| s.piece.as_deref()).any(|p| alike(p, was)) && !alike(was, now);
    if shown || (numbered && old.is_none()) {
        return Ok(());
    }
    if numbered && draft.names_piece(was) {
        let why = format!("the notes tell more of \"{was}\", which needs a name; give it another one instead");
        return Err(MendError::Value { what: "piece", why });
    }
    Ok(draft.rename_pieces(&[(was.to_owned(), Some(now.to_owned()))])?)
}
