//! The symbol on a label: Data Matrix ECC 200 (ISO/IEC 16022).

use datamatrix::{DataMatrixBuilder, SymbolList};

/// Light modules around a symbol: the standard asks for one, two are kinder to a phone.
pub const QUIET: usize = 2;

/// A square of dark and light modules.
#[derive(Debug)]
pub struct Symbol {
    /// How many modules a side has, without the quiet zone.
    pub side: usize,
    path: String,
}

impl Symbol {
    /// The symbol of a text; none where it is too long for the largest one.
    pub fn of(text: &str) -> Option<Self> {
        // Without macros a reader gives the text as it was, whatever it begins with.
        let builder = DataMatrixBuilder::new()
            .with_macros(false)
            .with_symbol_list(SymbolList::default().enforce_square());
        // Latin-1 is what a symbol holds where it does not say otherwise, line breaks included;
        // few readers heed the mark of another encoding, so it is used for nothing else.
        let latin: Option<Vec<u8>> =
            text.chars().map(|letter| u8::try_from(u32::from(letter)).ok()).collect();
        let code = match latin {
            Some(bytes) => builder.encode(&bytes),
            None => builder.encode_str(text),
        }
        .ok()?;
        let bitmap = code.bitmap();
        let side = bitmap.width();
        let mut path = String::new();
        for (y, row) in bitmap.bits().chunks(side).enumerate() {
            let mut x = 0;
            for run in row.chunk_by(|a, b| a == b) {
                if run[0] {
                    path += &format!("M{x} {y}h{0}v1h-{0}z", run.len());
                }
                x += run.len();
            }
        }
        Some(Self { side, path })
    }

    /// The dark modules as an SVG path, a module being one unit.
    pub fn path(&self) -> &str {
        &self.path
    }
}
