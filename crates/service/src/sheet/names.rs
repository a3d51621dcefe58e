//! Names of things on a farm, found however they are written.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// How many times near names are looked for: whoever has so many wrong ones has another list of names altogether.
const MOST_SEARCHES: u32 = 100;

/// Longest name that near ones are looked for, bytes; the longest name there can be.
const LONGEST: usize = 128;

/// Most names told of when none is meant for sure.
const MOST_TOLD: usize = 5;

/// Letters in which a misspelt name may differ from the one that is meant.
const MISSPELT: usize = 2;

/// A thing with the ways in which it may be written.
#[derive(Clone, Debug)]
struct Named {
    id: String,
    shown: String,
    forms: Vec<String>,
}

/// Names of one kind of thing.
#[derive(Clone, Debug)]
pub struct Names {
    what: &'static str,
    things: Vec<Named>,
    by_id: HashMap<String, usize>,
    by_form: HashMap<String, Vec<usize>>,
    searches: Arc<AtomicU32>,
}

impl Names {
    /// The ids and shown names of all there are; `what` says what they are, such as `a batch's id or name`. Of two things
    /// with the same id the first counts.
    pub fn new(what: &'static str, things: impl IntoIterator<Item = (String, String)>) -> Self {
        let mut names = Self {
            what,
            things: Vec::new(),
            by_id: HashMap::new(),
            by_form: HashMap::new(),
            searches: Arc::default(),
        };
        for (id, shown) in things {
            if names.by_id.contains_key(&id) {
                continue;
            }
            let index = names.things.len();
            let short = shown.split([',', '(']).next().unwrap_or_default();
            let mut forms = vec![plain(&id), plain(&shown), plain(short)];
            forms.retain(|form| !form.is_empty());
            forms.sort();
            forms.dedup();
            for form in &forms {
                names.by_form.entry(form.clone()).or_default().push(index);
            }
            names.by_id.insert(id.clone(), index);
            names.things.push(Named { id, shown, forms });
        }
        names
    }

    /// The id of the one thing that is meant, or what would be taken instead, with the names that are near.
    pub fn find(&self, text: &str) -> Result<&str, String> {
        if let Some(index) = self.by_id.get(text) {
            return Ok(&self.things[*index].id);
        }
        let form = plain(text);
        let meant = self.by_form.get(&form).map(Vec::as_slice).unwrap_or_default();
        if let [only] = meant {
            return Ok(&self.things[*only].id);
        }
        let near = if meant.is_empty() { self.near(&form) } else { meant.to_vec() };
        let told: Vec<String> = near.iter().take(MOST_TOLD).map(|index| self.things[*index].told()).collect();
        let told = match told.as_slice() {
            [] => self.what.to_owned(),
            [only] => format!("{}, perhaps {only}", self.what),
            several => format!("{}, perhaps one of {}", self.what, several.join(", ")),
        };
        Err(told)
    }

    /// Things that share a word with a form or are spelt much like it, the likest first.
    fn near(&self, form: &str) -> Vec<usize> {
        if form.len() > LONGEST || self.searches.fetch_add(1, Ordering::Relaxed) >= MOST_SEARCHES {
            return Vec::new();
        }
        let words: Vec<&str> = form.split(' ').filter(|word| word.len() > 2).collect();
        let mut near: Vec<(usize, usize)> = Vec::new();
        for (index, thing) in self.things.iter().enumerate() {
            let distance = thing.forms.iter().map(|own| {
                let spelt = strsim::damerau_levenshtein(own, form);
                let shared = own.split(' ').any(|word| {
                    words.iter().any(|given| word == *given || strsim::damerau_levenshtein(word, given) == 1)
                });
                if spelt <= MISSPELT || shared { spelt } else { usize::MAX }
            });
            near.extend(distance.min().filter(|distance| *distance < usize::MAX).map(|near| (near, index)));
        }
        near.sort_unstable();
        near.into_iter().map(|(_, index)| index).collect()
    }
}

impl Named {
    /// The id, with the name where that says more.
    fn told(&self) -> String {
        let same = self.shown.is_empty() || plain(&self.id) == plain(&self.shown);
        if same { format!("`{}`", self.id) } else { format!("`{}` ({})", self.id, self.shown) }
    }
}

/// Lower case, words without punctuation and without the `s` of a plural.
fn plain(text: &str) -> String {
    let lower = text.to_lowercase();
    let words = lower.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
    let singular = words.map(|word| match word.strip_suffix('s') {
        Some(stem) if stem.chars().count() > 2 && !stem.ends_with('s') => stem,
        _ => word,
    });
    singular.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Names {
        let things = [
            ("grass_mowings", "Grass mowings"),
            ("wheat_straw", "Wheat straw"),
            ("oat_straw", "Oat straw"),
            ("cardboard", "Cardboard, torn"),
            ("crop_stems", "Crop stems and vines (tomato, bean)"),
            ("heap-1", "Spring"),
            ("heap-2", "spring"),
        ];
        Names::new("an id or a name", things.map(|(id, name)| (id.to_owned(), name.to_owned())))
    }

    #[test]
    fn one_thing_is_found_however_it_is_written() {
        for (text, id) in [
            ("grass_mowings", "grass_mowings"),
            ("Grass Mowing", "grass_mowings"),
            ("GRASS-MOWINGS", "grass_mowings"),
            ("cardboard", "cardboard"),
            ("Cardboard, torn", "cardboard"),
            ("crop stems and vines", "crop_stems"),
            ("Heap 1", "heap-1"),
        ] {
            assert_eq!(names().find(text), Ok(id), "{text}");
        }
    }

    #[test]
    fn what_is_near_is_named_and_not_guessed() {
        for (text, told) in [
            ("straw", "an id or a name, perhaps one of `oat_straw`, `wheat_straw`"),
            ("gras mowing", "an id or a name, perhaps `grass_mowings`"),
            ("spring", "an id or a name, perhaps one of `heap-1` (Spring), `heap-2` (spring)"),
            ("unobtainium", "an id or a name"),
        ] {
            assert_eq!(names().find(text), Err(told.to_owned()), "{text}");
        }
    }
}
