//! The image that would be flashed.

use object::read::elf::{ElfFile32, ProgramHeader};
use object::{Endianness, Object, ObjectSymbol};
use std::collections::BTreeMap;
use std::path::Path;
use std::{fs, io};

/// Where the flash begins.
pub(crate) const FLASH: u32 = 0x0800_0000;
/// The flash's size (ST DS9405).
pub(crate) const FLASH_SIZE: usize = 2 << 20;

/// An image, ready to be flashed.
#[derive(Clone, Debug)]
pub struct Image {
    pub(crate) flash: Vec<u8>,
    symbols: BTreeMap<String, u32>,
}

impl Image {
    /// Reads an ELF.
    ///
    /// # Errors
    ///
    /// The file cannot be read, is no 32-bit ELF or has something to be loaded outside the flash.
    pub fn read(path: &Path) -> io::Result<Self> {
        let data = fs::read(path).map_err(|error| {
            io::Error::new(error.kind(), format!("{}: {error}", path.display()))
        })?;
        let file = ElfFile32::<Endianness>::parse(&*data).map_err(io::Error::other)?;
        let endian = file.endian();
        // Erased flash reads as ones.
        let mut flash = vec![0xff; FLASH_SIZE];
        for segment in file.elf_program_headers() {
            let bytes = segment
                .data(endian, &*data)
                .map_err(|()| io::Error::other("a segment lies outside its file"))?;
            if segment.p_type(endian) != object::elf::PT_LOAD || bytes.is_empty() {
                continue;
            }
            let start = segment.p_paddr(endian).wrapping_sub(FLASH) as usize;
            flash
                .get_mut(start..start.saturating_add(bytes.len()))
                .ok_or_else(|| io::Error::other("a segment lies outside the flash"))?
                .copy_from_slice(bytes);
        }
        let symbols = file
            .symbols()
            .filter_map(|symbol| Some((symbol.name().ok()?.to_owned(), symbol.address() as u32)))
            .collect();
        Ok(Self { flash, symbols })
    }

    /// The address of the first symbol whose name contains this.
    pub fn symbol(&self, part: &str) -> Option<u32> {
        self.symbols.iter().find(|(name, _)| name.contains(part)).map(|(_, &address)| address)
    }

    /// A word of the vector table.
    pub(crate) fn vector(&self, number: u32) -> u32 {
        let at = 4 * number as usize;
        let bytes = self.flash.get(at..at + 4).and_then(|bytes| bytes.try_into().ok());
        bytes.map_or(0, u32::from_le_bytes)
    }
}
