//! A trained engine as bytes: little-endian numbers with counted lists, nothing else.

/// Writes numbers one after another.
#[derive(Default)]
pub(crate) struct Writer(pub Vec<u8>);

/// Reads them back; every read says `None` where the bytes end or make no sense.
pub(crate) struct Reader<'a>(pub &'a [u8]);

impl Writer {
    pub fn count(&mut self, value: usize) {
        self.0.extend((value as u64).to_le_bytes());
    }

    pub fn number(&mut self, value: f64) {
        self.0.extend(value.to_le_bytes());
    }

    pub fn numbers(&mut self, values: &[f64]) {
        self.count(values.len());
        values.iter().for_each(|value| self.number(*value));
    }

    pub fn floats(&mut self, values: &[f32]) {
        self.count(values.len());
        values.iter().for_each(|value| self.0.extend(value.to_le_bytes()));
    }

    pub fn text(&mut self, value: &str) {
        self.count(value.len());
        self.0.extend(value.as_bytes());
    }
}

impl<'a> Reader<'a> {
    pub fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (head, tail) = self.0.split_at_checked(n)?;
        self.0 = tail;
        Some(head)
    }

    /// A count; refused if more items than bytes are left, so that broken bytes cannot ask for memory.
    pub fn count(&mut self) -> Option<usize> {
        let value = u64::from_le_bytes(self.take(8)?.try_into().ok()?);
        usize::try_from(value).ok()
    }

    pub fn length(&mut self) -> Option<usize> {
        self.count().filter(|n| *n <= self.0.len())
    }

    pub fn number(&mut self) -> Option<f64> {
        Some(f64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    pub fn numbers(&mut self) -> Option<Vec<f64>> {
        (0..self.length()?).map(|_| self.number()).collect()
    }

    pub fn floats(&mut self) -> Option<Vec<f32>> {
        (0..self.length()?).map(|_| Some(f32::from_le_bytes(self.take(4)?.try_into().ok()?))).collect()
    }

    pub fn text(&mut self) -> Option<String> {
        let n = self.length()?;
        String::from_utf8(self.take(n)?.to_vec()).ok()
    }
}
