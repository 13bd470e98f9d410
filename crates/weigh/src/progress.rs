//! Progress through stages of unequal length, and the wish to stop.

use crate::visit::CannotWeigh;

/// A stretch of the whole job, told to the caller as shares of the whole.
#[derive(Clone, Copy)]
pub(crate) struct Stage<'a> {
    watch: &'a (dyn Fn(f64) -> bool + Sync),
    from: f64,
    to: f64,
}

impl<'a> Stage<'a> {
    /// The whole job; `watch` gets the share done and returns false to stop.
    pub fn whole(watch: &'a (dyn Fn(f64) -> bool + Sync)) -> Stage<'a> {
        Stage { watch, from: 0.0, to: 1.0 }
    }

    /// The part of this stage between two shares of it.
    pub fn part(&self, from: f64, to: f64) -> Stage<'a> {
        let at = |share: f64| self.from + share * (self.to - self.from);
        Stage { watch: self.watch, from: at(from), to: at(to) }
    }

    /// Part `index` of `n` equal ones.
    pub fn step(&self, index: usize, n: usize) -> Stage<'a> {
        let n = n.max(1) as f64;
        self.part(index as f64 / n, (index as f64 + 1.0) / n)
    }

    /// Whether to go on after this share of the stage.
    pub fn goes_on(&self, share: f64) -> bool {
        (self.watch)(self.from + share.clamp(0.0, 1.0) * (self.to - self.from))
    }

    /// The same as a result.
    pub fn check(&self, share: f64) -> Result<(), CannotWeigh> {
        if self.goes_on(share) { Ok(()) } else { Err(CannotWeigh::Interrupted) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn parts_of_parts_are_shares_of_the_whole() {
        let seen = Mutex::new(Vec::new());
        let watch = |share: f64| {
            seen.lock().unwrap().push(share);
            share < 0.8
        };
        let whole = Stage::whole(&watch);
        assert!(whole.part(0.5, 1.0).step(0, 2).goes_on(1.0));
        assert_eq!(whole.part(0.5, 1.0).check(0.9), Err(CannotWeigh::Interrupted));
        assert_eq!(*seen.lock().unwrap(), vec![0.75, 0.95]);
    }
}
