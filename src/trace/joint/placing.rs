//! How the pictures lie on one another: by the sheet's own addresses, or each by the one it shares most with.

use super::content::Content;
use super::overlap::{Unplaced, place};
use super::place::Placement;
use super::{JoinError, JoinWanted, Session, Stages, name};
use crate::length::Px;
use crate::path::SeamPath;
use crate::proof::Proof;
use nalgebra::Vector2;

/// How every picture's lattice lies on the first one's.
pub(super) fn placements(sessions: &[Session], wanted: &JoinWanted, proof: &mut Proof) -> Result<Vec<Placement>, JoinError> {
    let n = sessions.len();
    let stages: Vec<Stages> = sessions.iter().filter_map(Session::stages).collect();
    if stages.iter().all(|s| s.lattice.code.is_some()) {
        // The addresses are the sheet's own.
        return Ok(vec![Placement::default(); n]);
    }
    let contents: Vec<Content> = sessions
        .iter()
        .zip(&stages)
        .map(|(session, s)| {
            let rims: Vec<&SeamPath> = s.lines.pieces.iter().map(|p| &p.outer).collect();
            let holes: Vec<&SeamPath> = s.lines.pieces.iter().flat_map(|p| &p.holes).collect();
            let height = session.wanted.height().0;
            let seen = Content::of(&session.shot, &s.solved.view, s.lattice.pitch, height, (&rims, &holes));
            seen.ok_or_else(|| JoinError::TooSlanting { picture: name(session) })
        })
        .collect::<Result<_, _>>()?;
    let mut placed: Vec<Option<Placement>> = vec![None; n];
    placed[0] = Some(Placement::default());
    while placed.iter().any(Option::is_none) {
        let mut best: Option<(usize, Placement, f64)> = None;
        let mut why: Option<(usize, usize, Unplaced)> = None;
        for k in (0..n).filter(|&k| placed[k].is_none()) {
            for j in (0..n).filter(|&j| placed[j].is_some()) {
                let hint = same(wanted, j, k).map(|[a, b]| [squares(&stages[j], a), squares(&stages[k], b)]);
                let hint = match hint {
                    Some([Some(a), Some(b)]) => Some([a, b]),
                    Some(_) => return Err(JoinError::HintOff { pictures: [j, k].map(|k| name(&sessions[k])) }),
                    None => None,
                };
                match place(&contents[j], &contents[k], hint) {
                    Ok(found) => {
                        proof.figure("join", "apart_mm", found.apart);
                        proof.figure("join", "likeness", found.likeness);
                        let all = found.by.then(placed[j].unwrap_or_default());
                        if best.is_none_or(|b| found.length > b.2) {
                            best = Some((k, all, found.length));
                        }
                    }
                    // What is open says more than what does not meet: two pictures need not.
                    Err(e) if why.is_none_or(|w| rank(e) > rank(w.2)) => why = Some((j, k, e)),
                    Err(_) => {}
                }
            }
        }
        match (best, why) {
            (Some((k, by, _)), _) => placed[k] = Some(by),
            (None, Some((j, k, why))) => {
                let pictures = [j, k].map(|k| name(&sessions[k]));
                return Err(match why {
                    Unplaced::Nowhere => JoinError::Apart { picture: pictures[1].clone() },
                    Unplaced::Mirrored => JoinError::Mirrored { pictures },
                    Unplaced::Open(ways) => JoinError::Open { pictures, ways, numbers: [j + 1, k + 1] },
                });
            }
            (None, None) => return Err(JoinError::TooFew),
        }
    }
    Ok(placed.into_iter().map(Option::unwrap_or_default).collect())
}

fn rank(why: Unplaced) -> u8 {
    match why {
        Unplaced::Nowhere => 0,
        Unplaced::Mirrored => 1,
        Unplaced::Open(_) => 2,
    }
}

/// Where two pictures are said to show one thing.
fn same(wanted: &JoinWanted, j: usize, k: usize) -> Option<[Px; 2]> {
    wanted.same.iter().find_map(|[a, b]| match (a.0, b.0) {
        (x, y) if (x, y) == (j, k) => Some([a.1, b.1]),
        (x, y) if (x, y) == (k, j) => Some([b.1, a.1]),
        _ => None,
    })
}

fn squares(s: &Stages, px: Px) -> Option<Vector2<f64>> {
    let at = s.solved.view.to_mm(px, s.height)?;
    Some(Vector2::new(at.x / s.lattice.pitch[0], at.y / s.lattice.pitch[1]))
}
