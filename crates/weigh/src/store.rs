//! A trained engine as bytes and back.

use crate::bytes::{Reader, Writer};
use crate::engine::{Engine, Variant};
use crate::fits::Fits;
use crate::key::VERSION;
use crate::member::Member;
use crate::rules::PairRule;
use crate::stations::StationModel;
use finish::models::Finish;

impl Engine {
    /// The engine as bytes, for the caller to store.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut out = Writer::default();
        out.text(VERSION);
        out.text(&self.key);
        [self.n_fields, self.seed as usize, self.per_finish].into_iter().for_each(|value| out.count(value));
        out.count(self.members.len());
        self.members.iter().for_each(|member| member.write(&mut out));
        self.fits.write(&mut out);
        out.count(self.rules.len());
        self.rules.iter().for_each(|rule| rule.write(&mut out));
        out.count(self.variants.len());
        for variant in &self.variants {
            out.text(&variant.words);
            out.count(variant.station.map_or(0, |station| station + 1));
            variant.member.write(&mut out);
        }
        out.count(self.stations.len());
        self.stations.iter().for_each(|station| station.write(&mut out));
        out.0
    }

    /// Reads a stored engine; `None` if the bytes are broken or of another version.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Engine> {
        let mut from = Reader(bytes);
        if from.text()? != VERSION {
            return None;
        }
        let key = from.text()?;
        let (n_fields, seed, per_finish) = (from.count()?, from.count()? as u64, from.count()?);
        let n_members = from.length()?;
        let members = (0..n_members).map(|_| Member::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let fits = Fits::read(&mut from)?;
        let n_rules = from.length()?;
        let rules = (0..n_rules).map(|_| PairRule::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let n_variants = from.length()?;
        let variants = (0..n_variants).map(|_| read_variant(&mut from)).collect::<Option<Vec<_>>>()?;
        let n_stations = from.length()?;
        let stations = (0..n_stations).map(|_| StationModel::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let n = Finish::count();
        let fitting = |member: &Member| member.n_classes() == n;
        let sound = rules.iter().all(|rule| rule.a < n && rule.b < n)
            && !members.is_empty()
            && members.iter().all(fitting)
            && variants.iter().all(|variant: &Variant| fitting(&variant.member));
        sound.then_some(Engine { key, n_fields, seed, per_finish, members, fits, rules, variants, stations })
    }
}

fn read_variant(from: &mut Reader<'_>) -> Option<Variant> {
    let words = from.text()?;
    let station = from.count()?.checked_sub(1);
    Some(Variant { words, station, member: Member::read(from)? })
}
