//! All parts that are known.

use crate::build::{self, Shelf};
use crate::diagnostic::{Sink, Source, nearest};
use crate::reading::{enter, raw_parts};
use crate::syntax::tree::RawPart;
use crate::{Aliases, Choice, Diagnostic, Part, SharedNumbers};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use std::{fs, io};

/// The descriptions in `vectors/parts`, by path.
const BUILTIN: &[(&str, &str)] = &include!(concat!(env!("OUT_DIR"), "/parts.rs"));

/// All parts that are known, by number.
#[derive(Clone, Debug, Default)]
pub struct Library {
    parts: BTreeMap<String, Arc<Part>>,
    shelf: Shelf,
    sources: Vec<Arc<Source>>,
    tables: Arc<Tables>,
}

/// What the numbers and markings on chips mean beside the parts' own numbers.
#[derive(Debug, Default)]
struct Tables {
    shared: SharedNumbers,
    aliases: Aliases,
}

impl Tables {
    /// Those that come with the program. A mistake in them, which a test rules out, leaves them
    /// empty: the parts are known all the same.
    fn builtin() -> Arc<Self> {
        static TABLES: OnceLock<Arc<Tables>> = OnceLock::new();
        let tables = TABLES.get_or_init(|| {
            Arc::new(Self {
                shared: SharedNumbers::builtin().unwrap_or_default(),
                aliases: Aliases::builtin().unwrap_or_default(),
            })
        });
        Arc::clone(tables)
    }
}

impl Library {
    /// A library without parts.
    pub fn empty() -> Self {
        Self::default()
    }

    /// The parts that come with the program.
    pub fn builtin() -> Self {
        static LIBRARY: OnceLock<Library> = OnceLock::new();
        LIBRARY
            .get_or_init(|| {
                let (library, _) = Self::of_texts(BUILTIN.iter().copied());
                Self { tables: Tables::builtin(), ..library }
            })
            .clone()
    }

    /// The parts that come with the program and those of some folders. A number in a folder
    /// replaces the same number before it, with a warning.
    ///
    /// # Errors
    ///
    /// When a folder or a file in it cannot be read.
    pub fn builtin_with(folders: &[PathBuf]) -> Result<(Self, Vec<Diagnostic>), io::Error> {
        let mut gathered = Gathered::default();
        gathered.add(BUILTIN.iter().copied());
        for folder in folders {
            let files = files(folder)?;
            gathered.add(files.iter().map(|(name, text)| (name.as_str(), text.as_str())));
        }
        let (library, diagnostics) = gathered.finish();
        Ok((Self { tables: Tables::builtin(), ..library }, diagnostics))
    }

    /// A library of texts, each with the name of its file.
    pub fn of_texts<'a>(
        texts: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> (Self, Vec<Diagnostic>) {
        let mut gathered = Gathered::default();
        gathered.add(texts);
        gathered.finish()
    }

    /// A part by its number: `7400`, `744040`, `2114`.
    pub fn part(&self, number: &str) -> Option<&Arc<Part>> {
        self.parts.get(number)
    }

    /// The chips that share a number, of which one must be said before anything is powered;
    /// empty for a number that means one.
    pub fn shared(&self, number: &str) -> &[Choice] {
        self.tables.shared.of(number)
    }

    /// What makers mark on parts of the library that comes with the program.
    pub fn aliases(&self) -> &Aliases {
        &self.tables.aliases
    }

    /// All parts, by number.
    pub fn iter(&self) -> impl Iterator<Item = &Arc<Part>> {
        self.parts.values()
    }

    /// How many parts there are.
    pub fn len(&self) -> usize {
        self.parts.len()
    }

    /// Whether there is no part.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// Numbers that look like one that is not known.
    pub fn nearest(&self, number: &str) -> Vec<&str> {
        nearest(number, self.parts.keys().map(String::as_str))
    }

    pub(crate) fn shelf(&self) -> &Shelf {
        &self.shelf
    }

    pub(crate) fn sources(&self) -> &[Arc<Source>] {
        &self.sources
    }
}

/// Texts on their way to a library.
#[derive(Default)]
struct Gathered {
    sink: Sink,
    shelf: Shelf,
}

impl Gathered {
    /// Adds texts of one origin; what they describe replaces earlier descriptions.
    fn add<'a>(&mut self, texts: impl IntoIterator<Item = (&'a str, &'a str)>) {
        let mut added: Vec<Arc<RawPart>> = Vec::new();
        for (name, text) in texts {
            added.extend(raw_parts(name, text, &mut self.sink));
        }
        for part in &added {
            if self.shelf.contains_key(&part.number.text) && part.number.text != "?" {
                self.sink.warning(
                    part.number.span,
                    format!("`{}` replaces a part that was known before", part.number.text),
                    "this description is used instead",
                    None,
                );
            }
        }
        enter(&added, &mut self.shelf, &mut self.sink);
    }

    fn finish(self) -> (Library, Vec<Diagnostic>) {
        let Self { mut sink, shelf } = self;
        // By number, so that messages come in the same order on every machine.
        let sorted: BTreeMap<&String, &Arc<RawPart>> = shelf.iter().collect();
        let mut parts = BTreeMap::new();
        for (number, raw) in sorted {
            if let Some(part) = build::build(raw, &shelf, &mut sink) {
                parts.insert(number.clone(), Arc::new(part));
            }
        }
        let sources = sink.sources.clone();
        let tables = Arc::default();
        (Library { parts, shelf, sources, tables }, sink.finish())
    }
}

/// The descriptions in a folder and the folders in it, by path.
fn files(folder: &Path) -> Result<Vec<(String, String)>, io::Error> {
    let mut found = Vec::new();
    gather(folder, &mut found, 0)?;
    found.sort();
    found.into_iter().map(|path| Ok((path.display().to_string(), text_of(&path)?))).collect()
}

/// A file's text. What is not UTF-8 becomes a character that no statement knows, so that its
/// place is reported; of a file that is too large only as much is read as shows that.
fn text_of(path: &Path) -> Result<String, io::Error> {
    use io::Read;
    let mut bytes = Vec::new();
    fs::File::open(path)?.take(crate::MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Folders nest at most this deep: a link may lead back up.
const DEEPEST: usize = 8;

fn gather(folder: &Path, found: &mut Vec<PathBuf>, depth: usize) -> Result<(), io::Error> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            if depth < DEEPEST {
                gather(&path, found, depth + 1)?;
            }
        } else if path.extension().is_some_and(|extension| extension == "part") {
            found.push(path);
        }
    }
    Ok(())
}
