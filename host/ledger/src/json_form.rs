//! The ledger as JSON: one object with the records as a list, in the order in which they can be
//! read back.
//!
//! ```json
//! {"format": "dipsift-ledger", "version": 1, "ledger": "0197…", "records": [
//!   {"record": "lot", "id": "0197…", "ledger": "0197…", "sequence": 1, "at": "…", "name": "…"}
//! ]}
//! ```

use crate::{Ledger, LedgerError, Merged, Record};
use serde::de::{DeserializeSeed, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::fmt;
use std::io::{self, Read, Write};

const FORMAT: &str = "dipsift-ledger";
const VERSION: u32 = 1;

pub(crate) fn unwritten(source: io::Error) -> LedgerError {
    LedgerError::File { what: "the export".into(), source }
}

impl Ledger {
    /// Writes everything as JSON in UTF-8, one record at a time.
    pub fn export_json(&self, mut to: impl Write) -> Result<(), LedgerError> {
        write!(
            to,
            "{{\"format\": \"{FORMAT}\", \"version\": {VERSION}, \"ledger\": \"{}\", \"records\": [",
            self.id()
        )
        .map_err(unwritten)?;
        let mut separator = "\n";
        self.for_each_record(|record| {
            write!(to, "{separator}").map_err(unwritten)?;
            separator = ",\n";
            serde_json::to_writer(&mut to, &record).map_err(|error| unwritten(error.into()))
        })?;
        to.write_all(b"\n]}\n").and_then(|()| to.flush()).map_err(unwritten)
    }

    /// Takes over the records of a JSON export that are not here yet, all or none.
    pub fn import_json(&mut self, from: impl Read) -> Result<Merged, LedgerError> {
        self.take_over(|add| {
            let mut document = Document { add, number: 0, version: None, failed: None };
            let mut reader = serde_json::Deserializer::from_reader(io::BufReader::new(from));
            let read = (&mut document).deserialize(&mut reader).and_then(|()| reader.end());
            match (document.failed.take(), read) {
                (Some(error), _) => Err(error),
                (None, Ok(())) => Ok(()),
                (None, Err(error)) => {
                    Err(LedgerError::Format { number: document.number, message: error.to_string() })
                }
            }
        })
    }
}

/// Passes the records on while the text is still being read: an export may be larger than memory.
struct Document<'a> {
    add: &'a mut dyn FnMut(Record) -> Result<(), LedgerError>,
    number: u64,
    version: Option<u32>,
    /// What the ledger said, which the reader's error cannot carry.
    failed: Option<LedgerError>,
}

impl<'de> DeserializeSeed<'de> for &mut Document<'_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        reader.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for &mut Document<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the object of a ledger's export")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let (mut format, mut records) = (false, false);
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "format" if map.next_value::<String>()? == FORMAT => format = true,
                "format" => return Err(A::Error::custom("this is no export of a ledger")),
                "version" => self.version = Some(map.next_value()?),
                "records" if format && self.version == Some(VERSION) => {
                    map.next_value_seed(List(self))?;
                    records = true;
                }
                "records" => {
                    return Err(A::Error::custom(match self.version {
                        Some(found) if format => {
                            format!("version {found} of the export is unknown")
                        }
                        _ => "format and version must come before the records".into(),
                    }));
                }
                _ => drop(map.next_value::<IgnoredAny>()?),
            }
        }
        if records { Ok(()) } else { Err(A::Error::missing_field("records")) }
    }
}

struct List<'a, 'b>(&'a mut Document<'b>);

impl<'de> DeserializeSeed<'de> for List<'_, '_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        reader.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for List<'_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of records")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        loop {
            self.0.number += 1;
            let Some(record) = list.next_element()? else { return Ok(()) };
            if let Err(error) = (self.0.add)(record) {
                self.0.failed = Some(error);
                return Err(A::Error::custom("refused"));
            }
        }
    }
}
