//! Values off the front of bytes.

/// The bytes that are left.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reader<'a>(pub(crate) &'a [u8]);

impl<'a> Reader<'a> {
    /// The next bytes; `None`, and nothing taken, where there are fewer.
    pub(crate) fn bytes(&mut self, count: usize) -> Option<&'a [u8]> {
        let (front, rest) = self.0.split_at_checked(count)?;
        self.0 = rest;
        Some(front)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (front, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*front)
    }

    pub(crate) fn u8(&mut self) -> Option<u8> {
        self.array().map(u8::from_le_bytes)
    }

    pub(crate) fn u16(&mut self) -> Option<u16> {
        self.array().map(u16::from_le_bytes)
    }

    pub(crate) fn u32(&mut self) -> Option<u32> {
        self.array().map(u32::from_le_bytes)
    }

    pub(crate) fn u64(&mut self) -> Option<u64> {
        self.array().map(u64::from_le_bytes)
    }
}

/// A piece of bytes; `None` where it does not lie within them.
pub(crate) fn piece(bytes: &[u8], offset: u32, length: u32) -> Option<&[u8]> {
    bytes.get(offset as usize..)?.get(..length as usize)
}
