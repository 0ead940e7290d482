//! From the notes and the tracings of a garment to its joined record.

use super::drafted::DraftedChange;
use super::garment::{
    BalanceOf, ChosenOf, CornerOf, DerivedOf, DoubtOf, DraftOf, EdgeOf, FORMAT, GarmentRecord, InnerOf, JoinOf, LayerOf, LevelOf,
    LiesOpenOf, MeasureOf, NotesOf, PictureOf, PieceOf, SewnOf, Source, TapeOf, VERSION,
};
use super::held::{hold, round_a_leg};
use super::json::{DoubtRecord, Record};
use super::layings::times;
use super::marked::MarkedOf;
use super::path_text::{path_text, round};
use super::pieces::GarmentPiece;
use super::unanswered::unanswered;
use super::who::{Who, directions};
use crate::length::{Length, Mm};
use crate::notes::{Garment, Join, Notes, ShotNotes, Up};
use crate::outline::length;
use crate::piece::{
    AsSewn, Corner, Down, Draft, How, Joined, Layer, Level, Line, Marked, Measure, NotWalked, Piece, Taken, alike, balance, compared,
    derived, joins, marked,
};
use crate::proof::Doubt;
use serde_json::Value;

/// By how much a piece is drawn larger for what its cloth will shrink: what that is called in the record, along the grain and across.
pub(super) const LARGER: [&str; 2] = ["larger for shrinkage, lengthwise, %", "larger for shrinkage, crosswise, %"];

/// What came of one picture of the garment.
#[derive(Clone, Debug)]
pub struct Shown {
    /// File name of the picture.
    pub file: String,
    /// What the notes say of it.
    pub shot: ShotNotes,
    /// What was found in it, or why nothing was, in one sentence.
    pub found: Result<Box<Seen>, String>,
}

/// What was found in a picture.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Its own record.
    pub record: Record,
    /// Its pieces, named and measured.
    pub pieces: Vec<GarmentPiece>,
    /// Where its own record lies, from the folder of the garment's.
    pub outline: String,
    /// Doubts about it beside other pictures of the same piece.
    pub beside: Vec<Doubt>,
}

impl GarmentRecord {
    /// What a garment is called in its record: by accession, object or stock number, or name, else by `name`, its folder's.
    pub fn id_of(notes: &Notes, name: &str) -> String {
        let g = &notes.garment;
        slug([&g.accession, &g.number, &g.name].into_iter().flatten().find(|t| !slug(t).is_empty()).map_or(name, |t| t))
    }

    /// The record of a garment from its notes, with their own text, and its pictures. `name` is what the garment is called where the
    /// notes give it no number and no name; `changes` are those of a record that was there before.
    pub fn of((notes, text): (&Notes, &str), shown: &[Shown], name: &str, changes: Vec<Value>) -> Self {
        let who = Who::of(&notes.garment);
        let g = &notes.garment;
        let id = Self::id_of(notes, name);
        let mut pieces: Vec<PieceOf> = Vec::new();
        let mut tape: Vec<TapeOf> = notes.tapes.iter().map(|t| who.tape(t)).collect();
        let mut doubts = Vec::new();
        let (round, name) = round_a_leg(notes, shown);
        doubts.extend(round.iter().filter_map(|c| hold(c, &name, &notes.tapes, &mut tape)));
        for (k, picture) in shown.iter().enumerate() {
            let Ok(seen) = &picture.found else { continue };
            doubts.extend(seen.record.doubts.iter().map(|d| DoubtOf { picture: Some(k), doubt: d.clone() }));
            doubts.extend(seen.beside.iter().map(|d| DoubtOf { picture: None, doubt: DoubtRecord::of(d) }));
            for piece in &seen.pieces {
                let name = free_name(&piece.draft.piece.name, &picture.file, &pieces);
                let own = compared(&piece.draft.piece.name, &piece.measures, &notes.tapes);
                let own = own.iter().filter(|c| round.iter().all(|r| !std::ptr::eq(r.tape, c.tape)));
                doubts.extend(own.filter_map(|c| hold(c, &name, &notes.tapes, &mut tape)));
                let marked = marked(&piece.draft, g, &format!("{id}/{}", slug(&name)));
                let undone = piece.draft.undone.iter().chain(&marked.undone);
                let undone = undone.map(|what| Doubt::NotDrafted { piece: name.clone(), what: what.clone() });
                doubts.extend(undone.map(|d| DoubtOf { picture: None, doubt: DoubtRecord::of(&d) }));
                pieces.push(who.piece(&id, name, (k, piece), &marked));
            }
        }
        let all: Vec<&Draft> = shown.iter().filter_map(|s| s.found.as_ref().ok()).flat_map(|s| s.pieces.iter().map(|p| &p.draft)).collect();
        let (mut facings, mut lost) = (Vec::new(), Vec::new());
        for made in derived(notes, &all) {
            match made {
                Ok(draft) => {
                    let facing = who.derived(&id, &draft, g);
                    let undone = facing.as_drafted.undone.iter();
                    lost.extend(undone.map(|what| Doubt::NotDrafted { piece: facing.name.clone(), what: what.clone() }));
                    facings.push(facing);
                }
                Err(e) => lost.push(Doubt::NotDrafted { piece: e.piece, what: e.why }),
            }
        }
        let walked = walked(notes, &all);
        // Where a picture failed, what is missing may be there.
        if shown.iter().all(|s| s.found.is_ok()) {
            let not = walked.iter().filter_map(|w| w.as_ref().err());
            lost.extend(not.map(|e| Doubt::NotDrafted { piece: e.join.clone(), what: e.why.clone() }));
        }
        doubts.extend(lost.iter().map(|d| DoubtOf { picture: None, doubt: DoubtRecord::of(d) }));
        doubts.extend(unanswered(notes, shown).iter().map(|doubt| DoubtOf { picture: None, doubt: DoubtRecord::of(doubt) }));
        Self {
            derived: facings,
            format: FORMAT.into(),
            version: VERSION,
            units: "mm".into(),
            id,
            made_by: format!("ruboff {}", env!("CARGO_PKG_VERSION")),
            garment: who.garment(g),
            notes: NotesOf {
                blake3: blake3::hash(text.as_bytes()).to_hex().to_string(),
                as_written: as_written(text),
                source: who.source(How::Noted),
            },
            pictures: shown.iter().map(picture).collect(),
            joins: notes.joins.iter().zip(&walked).map(|(j, w)| who.join(j, &pieces, w.as_ref().ok())).collect(),
            pieces,
            tape,
            doubts,
            changes,
            rests_on: None,
        }
    }
}

/// All joins walked on the lines as drafted; not those that name what no picture shows, or meet at corners that are not theirs.
fn walked(notes: &Notes, drafts: &[&Draft]) -> Vec<Result<Joined, NotWalked>> {
    let made = derived(notes, drafts).into_iter().filter_map(Result::ok).map(|d| d.piece);
    let pieces: Vec<Piece> = drafts.iter().map(|d| d.piece.clone()).chain(made).collect();
    joins(notes, &pieces)
}

/// The notes as a record keeps them; nothing where they are no TOML.
pub fn as_written(text: &str) -> Value {
    toml::from_str::<toml::Table>(text).map_or(Value::Null, |t| as_json(toml::Value::Table(t)))
}

/// The notes' own values in JSON; a date becomes its text.
fn as_json(value: toml::Value) -> Value {
    match value {
        toml::Value::String(s) => s.into(),
        toml::Value::Integer(i) => i.into(),
        toml::Value::Float(f) => f.into(),
        toml::Value::Boolean(b) => b.into(),
        toml::Value::Datetime(d) => d.to_string().into(),
        toml::Value::Array(a) => a.into_iter().map(as_json).collect(),
        toml::Value::Table(t) => Value::Object(t.into_iter().map(|(k, v)| (k, as_json(v))).collect()),
    }
}

/// Small letters, digits and hyphens: a name as an id has it.
fn slug(text: &str) -> String {
    let plain: String = text.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join("-")
}

/// A name that no piece has yet: pieces that nobody named are called after their picture, a piece that was laid twice is counted.
fn free_name(name: &str, file: &str, taken: &[PieceOf]) -> String {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let plain = name.strip_prefix("piece ").is_some_and(|n| n.parse::<u32>().is_ok());
    let base = if plain { format!("{stem} {name}") } else { name.to_owned() };
    let held = |n: &str| taken.iter().any(|p| slug(&p.name) == slug(n));
    std::iter::once(base.clone()).chain((2..).map(|k| format!("{base} ({k})"))).find(|n| !held(n)).unwrap_or(base)
}

fn picture(shown: &Shown) -> PictureOf {
    let word = |w: &str| Some(w.to_owned());
    let seen = shown.found.as_ref().ok();
    PictureOf {
        file: shown.file.clone(),
        blake3: seen.and_then(|s| s.record.pictures.first()).map(|p| p.blake3.clone()),
        result: if seen.is_some() { "traced" } else { "failed" }.into(),
        recorded_by: shown.shot.recorded_by.clone(),
        say: shown.found.as_ref().err().cloned(),
        outline: seen.map(|s| s.outline.clone()),
        side: shown.shot.wrong_side_up().and_then(|wrong| word(if wrong { "wrong side" } else { "right side" })),
        up: shown.shot.up.and_then(|up| word(if up == Up::Front { "front" } else { "back" })),
        settings: seen.map(|s| s.record.made_by.settings.clone()).unwrap_or_default(),
        profiles: seen.map(|s| s.record.made_by.profiles.clone()).unwrap_or_default(),
    }
}

impl Who {
    fn piece(&self, garment: &str, name: String, (picture, p): (usize, &GarmentPiece), marked: &Marked) -> PieceOf {
        let id = format!("{garment}/{}", slug(&name));
        let draft = &p.draft;
        let mut as_found = self.layer(&id, draft.piece.found(), draft);
        let spread = p.laid.as_ref();
        for (edge, own) in as_found.edges.iter_mut().zip(spread.map_or(&[][..], |s| &s.edges)) {
            edge.laid_mm = own.laid.map(round);
        }
        PieceOf {
            kind: draft.kind.map(|k| self.told(k.value.word(), k.how)),
            picture,
            laid: Some(times(spread.map_or(1, |s| s.layings))),
            laid_mm: spread.and_then(|s| s.laid).map(round),
            repeat_mm: spread.and_then(|s| s.repeat).map(round),
            derived: p.made.clone(),
            as_found,
            as_drafted: self.drafted(&id, draft, marked),
            chosen: self.chosen(draft),
            measures: measures(&id, p),
            balance: balanced(draft),
            id,
            name,
        }
    }

    fn derived(&self, garment: &str, draft: &Draft, g: &Garment) -> DerivedOf {
        let name = draft.piece.name.clone();
        let id = format!("{garment}/{}", slug(&name));
        let from = draft.notes.as_ref().and_then(|n| n.from.clone()).unwrap_or_default();
        let as_drafted = self.drafted(&id, draft, &marked(draft, g, &id));
        DerivedOf { as_drafted, from, chosen: self.chosen(draft), id, name }
    }

    /// The drafted layer with what was done to get there and what is drawn on it.
    fn drafted(&self, id: &str, draft: &Draft, marked: &Marked) -> DraftOf {
        let piece = &draft.piece;
        let down = draft.laying.down;
        DraftOf {
            mirrored: draft.laying.mirrored,
            turned_deg: round(draft.laying.turned_deg),
            down: down.word().into(),
            source: self.source(if down == Down::Grain { How::Noted } else { How::Assumed }),
            lines: self.layer(id, piece.drafted(), draft),
            changes: piece.changes().iter().map(DraftedChange::of).collect(),
            undone: draft.undone.iter().chain(&marked.undone).cloned().collect(),
            sewn: piece.sewn().iter().map(sewn).collect(),
            marked: MarkedOf::of(marked, piece.drafted()),
        }
    }

    /// The lines of a layer. Edges and corners of the drafted one are told of by the names they were found with.
    fn layer(&self, id: &str, layer: &Layer, draft: &Draft) -> LayerOf {
        let found = draft.piece.found();
        let named = |by_shape: &[bool], own: Option<usize>| match own {
            Some(k) if by_shape.get(k) == Some(&true) => How::Assumed,
            Some(_) => How::Noted,
            // It got its name when it was drafted.
            None => How::Chosen,
        };
        let nameless = |name: &str, word: &str| name.strip_prefix(word).is_some_and(|r| r.trim().parse::<u32>().is_ok());
        let how = |name: &str, word, by: &[bool], own| if nameless(name, word) { How::Assumed } else { named(by, own) };
        let corners = layer.corners.iter().map(|c: &Corner| CornerOf {
            name: c.name.clone(),
            named: how(&c.name, "corner", &draft.by_shape.corners, found.corner(&c.name)),
            at: [round(c.at.x), round(c.at.y)],
            error_mm: c.error.map(round),
        });
        let edges = layer.edges.iter().map(|e| {
            let own = found.edge(&e.name);
            let noted = draft.noted(&e.name);
            EdgeOf {
                id: format!("{id}/{}", slug(&e.name)),
                name: e.name.clone(),
                named: how(&e.name, "edge", &draft.by_shape.edges, own),
                line: line_word(e.line).into(),
                source: self.source(e.how),
                is: noted.and_then(|n| n.is).map(|is| self.told(is.word(), How::Noted)),
                true_seam_mm: noted.and_then(|n| n.true_seam).map(|l| self.told(round(l.mm()), How::Noted)),
                path: path_text(&e.path),
                length_mm: round(e.length()),
                bound_mm: e.bound.map(round),
                laid_mm: None,
            }
        });
        LayerOf {
            outline: path_text(&layer.outline()),
            corners: corners.collect(),
            edges: edges.collect(),
            inner: layer
                .inner
                .iter()
                .map(|i| InnerOf {
                    name: i.name.clone(),
                    path: path_text(&i.path),
                    length_mm: round(length(&i.path)),
                    bound_mm: i.bound.map(round),
                })
                .collect(),
            holes: layer.holes.iter().map(path_text).collect(),
            area_mm2: round(layer.area()),
            perimeter_mm: round(layer.perimeter()),
        }
    }

    fn chosen(&self, draft: &Draft) -> Vec<ChosenOf> {
        let Some(notes) = &draft.notes else { return Vec::new() };
        let one = |what: String, value: Value, how| ChosenOf { what, value, source: self.source(how) };
        let cut = notes.cut.iter().map(|c| one("cut".into(), c.words.clone().into(), How::Chosen));
        let cloth = notes.cloth.iter().map(|c| one("cloth".into(), c.clone().into(), How::Noted));
        let allowance = notes.allowance.iter().map(|(edge, l)| one(format!("allowance: {edge}, mm"), round(l.mm()).into(), How::Chosen));
        let shrinkage = directions("shrinkage", &notes.shrinkage).map(|(key, share)| one(key, share, How::Chosen));
        let larger = draft.larger.iter().flat_map(|l| {
            LARGER.iter().zip([l.lengthwise, l.crosswise]).map(|(what, by)| one((*what).to_owned(), round(by).into(), l.how))
        });
        cut.chain(cloth).chain(allowance).chain(shrinkage).chain(larger).collect()
    }

    fn join(&self, join: &Join, pieces: &[PieceOf], walked: Option<&Joined>) -> JoinOf {
        let long = |k: usize| {
            let each = join.edges[k].0.iter().map(|e| {
                let piece = pieces.iter().find(|p| alike(&p.name, &e.piece))?;
                piece.as_found.edges.iter().find(|own| alike(&own.name, &e.edge)).map(|own| own.length_mm)
            });
            each.sum::<Option<f64>>().map(round)
        };
        let edges = [join.edges[0].to_string(), join.edges[1].to_string()];
        // A cap is walked first wherever the notes name it.
        let sewn = walked.map(|w| {
            let [a, b] = w.walked.lengths.map(round);
            if w.sides == edges { [a, b] } else { [b, a] }
        });
        JoinOf {
            edges,
            ease_mm: join.ease.map(|l| round(l.mm())),
            tolerance_mm: join.tolerance.map(|l| round(l.mm())),
            source: self.source(How::Noted),
            lengths_mm: [long(0), long(1)],
            sewn_mm: sewn,
        }
    }
}

pub(super) fn sewn(s: &AsSewn) -> SewnOf {
    let open = s.open.iter().map(|o| LiesOpenOf { stretch: o.stretch.clone(), legs_mm: o.legs.map(round) }).collect();
    SewnOf { edge: s.edge.clone(), stretches: s.stretches.clone(), taken_up_mm: round(s.taken_up), open }
}

pub(super) fn line_word(line: Line) -> &'static str {
    match line {
        Line::Rim => "rim",
        Line::Seam => "seam",
        Line::Fold => "fold",
        Line::Cut => "cut",
    }
}

/// How both sides of a piece lie about its centre, on the page on which it is drafted.
fn balanced(draft: &Draft) -> Option<BalanceOf> {
    let b = balance(draft.piece.found(), draft.notes.as_ref())?;
    let page = |p: Mm| {
        let q = draft.laying.by * kurbo::Point::new(p.x, p.y);
        [round(q.x), round(q.y)]
    };
    // Right of a line down the page stays right of it, unless the piece is mirrored.
    let sign = if draft.laying.mirrored { -1.0 } else { 1.0 };
    let level = |l: &Level| {
        let mut from_to = l.ends.map(page);
        from_to.sort_by(|a, b| a[0].total_cmp(&b[0]));
        // Nothing is nothing, whichever way round.
        LevelOf { name: l.name.clone(), from_to, off_mm: round(sign * l.off) + 0.0 }
    };
    Some(BalanceOf {
        levels: b.centre.levels.iter().map(level).collect(),
        marked_off_mm: b.marked.map(|m| round(sign * m.0)),
        marked_turned_deg: b.marked.map(|m| round(sign * m.1)),
        sides_differ_mm: round(b.difference.most),
        sides_differ_mean_mm: round(b.difference.mean),
    })
}

/// The measures of a piece, where they were taken on it as drafted.
fn measures(id: &str, p: &GarmentPiece) -> Vec<MeasureOf> {
    let laid = p.draft.piece.found().mapped(p.draft.laying.by);
    let one = |m: &Measure| {
        let (from_to, along) = match &m.taken {
            Taken::Straight(ends) => (Some(ends.map(|e| [round(e.x), round(e.y)])), None),
            Taken::Along(edges) => {
                let names: Vec<&str> = edges.iter().filter_map(|&k| laid.edges.get(k)).map(|e| e.name.as_str()).collect();
                (None, Some(names.join(" + ")))
            }
            Taken::Hole(_) => (None, Some("hole".to_owned())),
        };
        MeasureOf {
            id: format!("{id}/measure/{}", slug(&format!("{} {}", m.name, m.side.unwrap_or_default()))),
            name: m.name.into(),
            side: m.side.map(str::to_owned),
            mm: round(m.length),
            inches: Length::from_mm(m.length).sixteenths(),
            bound_mm: m.bound.map(round),
            source: Source { how: if m.bound.is_some() { How::Seen } else { How::Assumed }, by: None, on: None },
            half_round: m.half_round,
            darts_closed_mm: (m.closed > 0.0).then(|| round(m.closed)),
            laid_mm: m.laid.map(round),
            from_to,
            along,
        }
    };
    p.measures.iter().map(one).collect()
}
