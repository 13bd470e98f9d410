//! The first directory of a TIFF file, read ahead of the decoder for what the decoder refuses.

/// Tag numbers of TIFF 6.0.
const PHOTOMETRIC: u16 = 262;
/// Palette colour and, as replacement, black is zero.
const PALETTE: u16 = 3;

/// Where the first directory says 'palette', as the position of the value's low byte. The decoder knows no palettes; with the
/// byte read as 1 ('black is zero') it gives the indices.
pub(super) fn palette_byte(bytes: &[u8]) -> Option<u64> {
    let little = bytes.starts_with(b"II");
    let number = |at: usize, size: usize| -> Option<u64> {
        let part = bytes.get(at..at.checked_add(size)?)?;
        let fold = |sum: u64, byte: &u8| (sum << 8) | u64::from(*byte);
        Some(if little { part.iter().rev().fold(0, fold) } else { part.iter().fold(0, fold) })
    };
    let big = number(2, 2)? == 43;
    let (start, count_size, entry_size, value_at) =
        if big { (number(8, 8)?, 8, 20, 12) } else { (number(4, 4)?, 2, 12, 8) };
    let start = usize::try_from(start).ok()?;
    let count = usize::try_from(number(start, count_size)?).ok()?.min(65_535);
    let first = start.checked_add(count_size)?;
    let entry = (0..count)
        .filter_map(|i| first.checked_add(i * entry_size))
        .find(|&at| number(at, 2) == Some(u64::from(PHOTOMETRIC)))?;
    let value = entry.checked_add(value_at)?;
    (number(value, 2)? == u64::from(PALETTE)).then_some(if little { value as u64 } else { value as u64 + 1 })
}

/// The file's bytes with one byte read as 1.
pub(super) struct Patched<'a> {
    pub(super) bytes: std::io::Cursor<&'a [u8]>,
    pub(super) one_at: Option<u64>,
}

impl std::io::Read for Patched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let start = self.bytes.position();
        let found = self.bytes.read(buffer)?;
        if let Some(offset) =
            self.one_at.and_then(|at| at.checked_sub(start)).and_then(|offset| usize::try_from(offset).ok())
            && let Some(byte) = buffer.get_mut(..found).and_then(|read| read.get_mut(offset))
        {
            *byte = 1;
        }
        Ok(found)
    }
}

impl std::io::Seek for Patched<'_> {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.bytes.seek(to)
    }
}
