//! No circles of files: which file names which, read from the sources.

use std::collections::{BTreeMap, BTreeSet};

use crate::tidy::{code, files};

/// A file as the path of its module.
type Place = Vec<String>;

/// The files of `src`, and what each of them takes in by `use`: whether for others as well, and whence.
struct Modules {
    words: BTreeMap<Place, Vec<String>>,
    uses: BTreeMap<Place, Vec<(bool, Place)>>,
}

impl Modules {
    fn read() -> Modules {
        let mut modules = Modules { words: BTreeMap::new(), uses: BTreeMap::new() };
        let mut taken = Vec::new();
        for path in files("src", "rs") {
            let named = path.with_extension("").to_str().unwrap().to_owned();
            let place: Place = named.split('/').skip(1).map(str::to_owned).collect();
            let place: Place = place.into_iter().filter(|one| one != "mod").collect();
            let code = code(&path);
            let is_use = |line: &str| line.trim_start_matches("pub ").starts_with("use ");
            let (mut rest, mut uses) = (String::new(), Vec::new());
            for part in code.split_inclusive(';') {
                let start =
                    part.rfind("\nuse ").or(part.rfind("\npub use ")).map_or(0, |at| at + 1);
                match is_use(&part[start..]) {
                    true => {
                        rest.push_str(&part[..start]);
                        let tree: String = part[start..].split_whitespace().collect();
                        let (shared, tree) = match tree.strip_prefix("pub") {
                            Some(tree) => (true, tree),
                            None => (false, &*tree),
                        };
                        let all = flat(tree.strip_prefix("use").unwrap().trim_end_matches(';'));
                        uses.extend(all.into_iter().map(|path| (shared, path)));
                    }
                    false => rest.push_str(part),
                }
            }
            let part_of_path = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
            let words = rest.split(|c| !part_of_path(c)).filter(|word| !word.is_empty());
            modules.words.insert(place.clone(), words.map(str::to_owned).collect());
            taken.push((place, uses));
        }
        for (place, uses) in taken {
            let whole =
                |(shared, path): (bool, String)| Some((shared, modules.whole(&place, &path)?));
            let uses = uses.into_iter().filter_map(whole).collect();
            modules.uses.insert(place, uses);
        }
        modules
    }

    /// A path from the root of the crate; `None` of another one's.
    fn whole(&self, from: &Place, path: &str) -> Option<Place> {
        let mut parts = path.split("::").map(str::to_owned).peekable();
        let mut place = from.clone();
        match parts.peek()?.as_str() {
            "crate" => place.clear(),
            "self" | "super" => {}
            first => {
                place.push(first.to_owned());
                let known = self.words.contains_key(&place);
                place.pop();
                known.then_some(())?;
            }
        }
        while let Some(part) = parts.next_if(|part| ["crate", "self", "super"].contains(&&**part)) {
            if part == "super" {
                place.pop();
            }
        }
        place.extend(parts);
        Some(place)
    }

    /// The file in which what a path names is written.
    fn home(&self, path: &[String]) -> Option<Place> {
        let known = (1..=path.len()).rev().find(|n| self.words.contains_key(&path[..*n]))?;
        let (at, Some(name)) = (path[..known].to_vec(), path.get(known)) else { return None };
        let is_made = |pair: &[String]| {
            let made = ["fn", "struct", "enum", "trait", "const", "static", "type"];
            pair[1] == *name && made.contains(&&*pair[0])
        };
        if self.words[&at].windows(2).any(is_made) {
            return Some(at);
        }
        let shared = self.uses[&at].iter().filter(|(shared, _)| *shared);
        let passed_on = shared.filter_map(|(_, from)| match from.last()?.as_str() {
            "*" => self.home(&[&from[..from.len() - 1], &path[known..]].concat()).filter(|of| {
                *of != from[..from.len() - 1] || self.words[of].windows(2).any(is_made)
            }),
            last if last == name => self.home(from),
            _ => None,
        });
        passed_on.into_iter().next().or(Some(at))
    }

    /// The files that a file names, but for those it is within and those within it.
    fn named(&self, place: &Place) -> BTreeSet<Place> {
        let uses = &self.uses[place];
        let paths = self.words[place].iter().filter_map(|word| {
            let (first, rest) = word.split_once("::")?;
            let taken = uses.iter().find(|(_, of)| of.last().is_some_and(|last| last == first));
            match taken {
                Some((_, of)) => {
                    Some(of.iter().cloned().chain(rest.split("::").map(str::to_owned)).collect())
                }
                None => self.whole(place, word),
            }
        });
        let taken = uses.iter().filter(|(shared, _)| !shared).map(|(_, of)| of.clone());
        let homes = taken.chain(paths).filter_map(|path: Place| self.home(&path));
        homes.filter(|of| !of.starts_with(place) && !place.starts_with(of)).collect()
    }
}

/// Every path of a tree of them.
fn flat(tree: &str) -> Vec<String> {
    let Some((before, inner)) = tree.split_once('{') else { return vec![tree.to_owned()] };
    let (mut depth, mut parts) = (0, vec![String::new()]);
    for letter in inner.trim_end_matches('}').chars() {
        depth += i32::from(letter == '{') - i32::from(letter == '}');
        match letter {
            ',' if depth == 0 => parts.push(String::new()),
            other => parts.last_mut().unwrap().push(other),
        }
    }
    let inner = parts.iter().filter(|part| !part.is_empty()).flat_map(|part| flat(part));
    inner.map(|path| format!("{before}{path}")).collect()
}

/// Where circles are left.
const LEFT: [&[&str]; 2] = [&["edge", "page"], &["plan"]];

/// A file that names another is not named by it, nor by those it names; parents and children apart.
#[test]
fn law_no_files_name_each_other_in_a_circle() {
    let modules = Modules::read();
    let all = modules.words.keys().filter(|place| **place != ["testing"]);
    let named: BTreeMap<&Place, BTreeSet<Place>> =
        all.map(|place| (place, modules.named(place))).collect();
    let leads = |from: &Place, to: &Place| {
        let (mut seen, mut next) = (BTreeSet::new(), vec![from]);
        while let Some(place) = next.pop() {
            next.extend(named[place].iter().filter(|other| seen.insert(*other)));
        }
        seen.contains(to)
    };
    let arrows = named.iter().flat_map(|(from, others)| others.iter().map(move |to| (*from, to)));
    let back: Vec<_> = arrows.filter(|(from, to)| leads(to, from)).collect();
    let within = |left: &[&str], place: &Place| {
        place.iter().zip(left).filter(|(a, b)| a == *b).count() == left.len()
    };
    for left in LEFT {
        assert!(back.iter().any(|(from, _)| within(left, from)), "{left:?}: none is left");
    }
    let others = back.iter().filter(|(from, _)| !LEFT.iter().any(|left| within(left, from)));
    let others: Vec<String> =
        others.map(|(from, to)| format!("{} -> {}", from.join("::"), to.join("::"))).collect();
    assert!(others.is_empty(), "these files name each other: {others:#?}");
}
