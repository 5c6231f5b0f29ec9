//! The march tests in print.

use crate::march::March;
use crate::mistake::nearest;

/// A march test in print.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Published {
    /// The short name to call it by.
    pub key: &'static str,
    /// Its name in print.
    pub name: &'static str,
    /// Its elements in the ASCII notation.
    pub notation: &'static str,
    /// The accesses for each address, as printed: the k of "kn".
    pub printed_length: usize,
    /// Where it was first published, or the text that it is known from.
    pub publication: &'static str,
    /// Whether its elements are recalled; otherwise they were read in a text that cites the
    /// publication.
    pub from_memory: bool,
}

impl Published {
    /// The test itself.
    ///
    /// # Panics
    ///
    /// Never: the tests read every notation of the catalogue.
    pub fn march(&self) -> March {
        March::read(self.notation).expect("the catalogue's notations are sound")
    }
}

/// Finds a test by its name, in whatever case, with or without "March", blanks and inner hyphens:
/// `c-`, `March C-`, `IFA9`.
pub fn find(name: &str) -> Option<&'static Published> {
    let wanted = bare(name);
    CATALOGUE.iter().find(|test| bare(test.key) == wanted || bare(test.name) == wanted)
}

/// The test whose name is nearest to one that is not in the catalogue.
pub fn names_near(name: &str) -> Option<&'static Published> {
    let bares: Vec<String> =
        CATALOGUE.iter().flat_map(|test| [bare(test.key), bare(test.name)]).collect();
    let near = nearest(&bare(name), bares.iter().map(String::as_str))?;
    find(near)
}

/// A name without what people write differently.
fn bare(name: &str) -> String {
    let name = name.to_lowercase().replace(['−', '–', '‐', '‑'], "-");
    let name = name.replace("marching", "MARCHING").replace("march", " ").to_lowercase();
    let mut letters = name.chars().filter(|c| !c.is_whitespace() && *c != '_').peekable();
    let mut bare = String::new();
    while let Some(letter) = letters.next() {
        // A hyphen at the end belongs to the name: March C is not March C-.
        let inner = letters.peek().is_some_and(|next| next.is_alphanumeric());
        if letter != '-' || !inner {
            bare.push(letter);
        }
    }
    bare
}

/// The march tests in print, by length within each family. Most were read in the doc-string of
/// `march.py` of hbmlens, which cites the papers.
pub const CATALOGUE: [Published; 21] = [
    Published {
        key: "mats",
        name: "MATS",
        notation: "any(w0); any(r0,w1); any(r1)",
        printed_length: 4,
        publication: "R. Nair, 1979",
        from_memory: true,
    },
    Published {
        key: "mats+",
        name: "MATS+",
        notation: "any(w0); up(r0,w1); down(r1,w0)",
        printed_length: 5,
        publication: "R. Nair, IEEE Trans. Computers C-28(3), 1979; Abadir and Reghbati, 1983",
        from_memory: false,
    },
    Published {
        key: "mats++",
        name: "MATS++",
        notation: "any(w0); up(r0,w1); down(r1,w0,r0)",
        printed_length: 6,
        publication: "Breuer and Friedman; van de Goor, 1991",
        from_memory: false,
    },
    Published {
        key: "marching",
        name: "Marching 1/0",
        notation: "any(w0); up(r0,w1,r1); down(r1,w0,r0); any(w1); up(r1,w0,r0); down(r0,w1,r1)",
        printed_length: 14,
        publication: "Breuer and Friedman, 1976",
        from_memory: false,
    },
    Published {
        key: "x",
        name: "March X",
        notation: "any(w0); up(r0,w1); down(r1,w0); any(r0)",
        printed_length: 6,
        publication: "unpublished; van de Goor, 1991",
        from_memory: false,
    },
    Published {
        key: "y",
        name: "March Y",
        notation: "any(w0); up(r0,w1,r1); down(r1,w0,r0); any(r0)",
        printed_length: 8,
        publication: "van de Goor, 1991",
        from_memory: false,
    },
    Published {
        key: "c",
        name: "March C",
        notation: "any(w0); up(r0,w1); up(r1,w0); any(r0); down(r0,w1); down(r1,w0); any(r0)",
        printed_length: 11,
        publication: "M. Marinescu, International Test Conference, 1982",
        from_memory: false,
    },
    Published {
        key: "c-",
        name: "March C-",
        notation: "any(w0); up(r0,w1); up(r1,w0); down(r0,w1); down(r1,w0); any(r0)",
        printed_length: 10,
        publication: "Marinescu, 1982; van de Goor, Testing Semiconductor Memories",
        from_memory: false,
    },
    Published {
        key: "extended-c-",
        name: "Extended March C-",
        notation: "any(w0); up(r0,w1,r1); up(r1,w0); down(r0,w1); down(r1,w0); any(r0)",
        printed_length: 11,
        publication: "van de Goor",
        from_memory: true,
    },
    Published {
        key: "a",
        name: "March A",
        notation: "any(w0); up(r0,w1,w0,w1); up(r1,w0,w1); down(r1,w0,w1,w0); down(r0,w1,w0)",
        printed_length: 15,
        publication: "Suk and Reddy, IEEE Trans. Computers C-30(12), 1981",
        from_memory: false,
    },
    Published {
        key: "b",
        name: "March B",
        notation: "any(w0); up(r0,w1,r1,w0,r0,w1); up(r1,w0,w1); down(r1,w0,w1,w0); \
                   down(r0,w1,w0)",
        printed_length: 17,
        publication: "Suk and Reddy, IEEE Trans. Computers C-30(12), 1981",
        from_memory: false,
    },
    Published {
        key: "pmovi",
        name: "PMOVI",
        notation: "down(w0); up(r0,w1,r1); up(r1,w0,r0); down(r0,w1,r1); down(r1,w0,r0)",
        printed_length: 13,
        publication: "De Jonge and Smeulders, Computer Design, 1976",
        from_memory: false,
    },
    Published {
        key: "u",
        name: "March U",
        notation: "any(w0); up(r0,w1,r1,w0); up(r0,w1); down(r1,w0,r0,w1); down(r1,w0)",
        printed_length: 13,
        publication: "van de Goor and Gaydadjiev, IEE Proc. Circuits, Devices and Systems \
                      144(3), 1997",
        from_memory: false,
    },
    Published {
        key: "lr",
        name: "March LR",
        notation: "any(w0); down(r0,w1); up(r1,w0,r0,w1); up(r1,w0); up(r0,w1,r1,w0); up(r0)",
        printed_length: 14,
        publication: "van de Goor and Gaydadjiev, VLSI Test Symposium, 1996",
        from_memory: false,
    },
    Published {
        key: "sr",
        name: "March SR",
        notation: "down(w0); up(r0,w1,r1,w0); up(r0,r0); up(w1); down(r1,w0,r0,w1); down(r1,r1)",
        printed_length: 14,
        publication: "Hamdioui and van de Goor, Asian Test Symposium, 2000",
        from_memory: false,
    },
    Published {
        key: "la",
        name: "March LA",
        notation: "any(w0); up(r0,w1,w0,w1,r1); up(r1,w0,w1,w0,r0); down(r0,w1,w0,w1,r1); \
                   down(r1,w0,w1,w0,r0); down(r0)",
        printed_length: 22,
        publication: "van de Goor et al., ED&TC, 1999; others give 1997",
        from_memory: false,
    },
    Published {
        key: "ss",
        name: "March SS",
        notation: "any(w0); up(r0,r0,w0,r0,w1); up(r1,r1,w1,r1,w0); down(r0,r0,w0,r0,w1); \
                   down(r1,r1,w1,r1,w0); any(r0)",
        printed_length: 22,
        publication: "Hamdioui, van de Goor and Rodgers, MTDT, 2002",
        from_memory: false,
    },
    Published {
        key: "raw",
        name: "March RAW",
        notation: "any(w0); up(r0,w0,r0,r0,w1,r1); up(r1,w1,r1,r1,w0,r0); \
                   down(r0,w0,r0,r0,w1,r1); down(r1,w1,r1,r1,w0,r0); any(r0)",
        printed_length: 26,
        publication: "Hamdioui, Al-Ars and van de Goor, VLSI Test Symposium, 2002, fig. 4",
        from_memory: false,
    },
    Published {
        key: "raw1",
        name: "March RAW1",
        notation: "any(w0); any(w0,r0); any(r0); any(w1,r1); any(r1); any(w1,r1); any(r1); \
                   any(w0,r0); any(r0)",
        printed_length: 13,
        publication: "Hamdioui, Al-Ars and van de Goor, VLSI Test Symposium, 2002, fig. 3: \
                      dynamic faults of single cells only",
        from_memory: false,
    },
    Published {
        key: "g",
        name: "March G",
        notation: "any(w0); up(r0,w1,r1,w0,r0,w1); up(r1,w0,w1); down(r1,w0,w1,w0); \
                   down(r0,w1,w0); pause(100ms); any(r0,w1,r1); pause(100ms); any(r1,w0,r0)",
        printed_length: 23,
        publication: "van de Goor, 1990s",
        from_memory: true,
    },
    Published {
        key: "ifa-9",
        name: "IFA-9",
        notation: "any(w0); up(r0,w1); up(r1,w0); down(r0,w1); down(r1,w0); pause(100ms); \
                   any(r0,w1); pause(100ms); any(r1)",
        printed_length: 12,
        publication: "Dekker, Beenker and Thijssen, International Test Conference, 1988",
        from_memory: true,
    },
];
