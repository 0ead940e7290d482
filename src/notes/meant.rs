//! Which of the names given with allowances is meant for an edge: what a cutter calls several edges by one word.

use super::alike::alike;
use super::piece::PieceKind;

/// An edge by the words that an allowance may be given it by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Called<'a> {
    /// Its names: as drafted, as found, and what else it is called in the trade.
    pub names: Vec<&'a str>,
    /// What it is, in words: `seam`, `hem fold` …
    pub is: Option<&'a str>,
}

impl<'a> Called<'a> {
    /// An edge of a piece. The end of a sleeve is its hem, too.
    pub fn of(name: &'a str, is: Option<&'a str>, kind: Option<PieceKind>) -> Self {
        let hem = (kind == Some(PieceKind::Sleeve) && words(name).iter().any(|w| w == "end")).then_some("hem");
        Self { names: std::iter::once(name).chain(hem).collect(), is }
    }

    /// The same under one more name of its own.
    pub fn or(mut self, name: &'a str) -> Self {
        self.names.insert(self.names.len().min(1), name);
        self
    }

    /// The one of the given names that is meant for it: its own, else the most words of it (`side` is both `side left` and `side right`), else what it
    /// is, else `all`. An edge that is known by its ends alone (`neck to hem`) has no words of its own.
    pub fn key<'k, I: Iterator<Item = &'k str> + Clone>(&self, given: I) -> Option<&'k str> {
        let exact = self.names.iter().find_map(|name| given.clone().find(|key| alike(key, name)));
        let by_words = || {
            let own = self.names.iter().filter(|n| !n.contains(" to ")).map(|n| words(n)).collect::<Vec<_>>();
            let fits = |key: &str| !words(key).is_empty() && own.iter().any(|own| words(key).iter().all(|w| own.contains(w)));
            given.clone().filter(|key| fits(key)).max_by_key(|key| words(key).len())
        };
        let by_kind = || self.is.and_then(|is| given.clone().find(|key| alike(key, is)));
        let all = || given.clone().find(|key| alike(key, "all"));
        exact.or_else(by_words).or_else(by_kind).or_else(all)
    }
}

fn words(text: &str) -> Vec<String> {
    text.to_lowercase().split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_meant() {
        let given = ["all", "hem", "side", "side left", "hem fold", "seam"];
        let key = |name, is, kind| Called::of(name, is, kind).key(given.iter().copied());
        let cases = [
            ("side left", None, "side left"),
            ("side right", None, "side"),
            ("hem 2", None, "hem"),
            ("neckline", None, "all"),
            ("neckline", Some("seam"), "seam"),
            ("lower edge", Some("hem fold"), "hem fold"),
            ("underarm left to hem left", None, "all"),
            ("Side-Left", None, "side left"),
        ];
        for (name, is, want) in cases {
            assert_eq!(key(name, is, None), Some(want), "{name}");
        }
        assert_eq!((key("end", None, Some(PieceKind::Sleeve)), key("end", None, Some(PieceKind::Collar))), (Some("hem"), Some("all")));
        assert_eq!(Called::of("side 1", None, None).or("hem").key(given.iter().copied()), Some("hem"));
        assert_eq!(Called::of("neckline", None, None).key(["", "hem"].into_iter()), None);
    }
}
