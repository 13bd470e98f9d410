//! What draws strokes in a field: a finished object, or two finishes on top of each other.

use crate::geometry::Geometry;
use finish::models::{Detail, Draw, Finish, Object, Place, Station, Stroke, Window, strokes};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Something that draws strokes in a field: a finish, or what a test puts in its place.
pub trait Source: Sync {
    /// Strokes of one field of `station` (stations are numbered from 0 within one object).
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke>;
}

/// A finished object with its stations drawn.
pub struct Finished {
    /// The object.
    pub object: Object,
    /// Its stations.
    pub stations: Vec<Station>,
}

impl Finished {
    /// A fresh object of this finish with stations for a geometry.
    pub fn draw(finish: Finish, draw: &Draw, geometry: &Geometry, rng: &mut Pcg64) -> Finished {
        let object = Object::draw(finish, draw, rng);
        let n_stations = geometry.fields.iter().map(|field| field.station + 1).max().unwrap_or(0);
        Finished { object, stations: (0..n_stations).map(|_| object.station(rng)).collect() }
    }
}

impl Source for Finished {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        match self.stations.get(station) {
            Some(station) => strokes(&self.object, station, place, window, detail, rng),
            None => Vec::new(),
        }
    }
}

/// Two finishes on top of each other; the later one left this share of the strokes.
pub struct Layered {
    /// The earlier finish.
    pub earlier: Finished,
    /// The later finish.
    pub later: Finished,
    /// Share of strokes from the later finish, 0 to 1.
    pub share: f64,
}

impl Source for Layered {
    fn field(
        &self,
        station: usize,
        place: Place,
        window: Window,
        detail: Detail,
        rng: &mut Pcg64,
    ) -> Vec<Stroke> {
        let mut earlier = self.earlier.field(station, place, window, detail, rng);
        let mut later = self.later.field(station, place, window, detail, rng);
        let mut mixed = Vec::with_capacity(earlier.len() + later.len());
        // Both layers in their shares until one is used up.
        while mixed.len() < detail.most {
            let from = if rng.random::<f64>() < self.share { &mut later } else { &mut earlier };
            match from.pop() {
                Some(stroke) => mixed.push(stroke),
                None => break,
            }
        }
        mixed
    }
}
