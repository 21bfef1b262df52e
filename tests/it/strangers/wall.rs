//! Heat going into and through a brick wall.

pub(crate) const KELVIN: f64 = 273.15;
const STEFAN_BOLTZMANN: f64 = 5.670_374e-8;
const NODES: usize = 6;

/// Heat radiated between two grey surfaces or a flame and a surface, W per m2 of exchange.
pub(crate) fn radiated(hot_c: f64, cold_c: f64) -> f64 {
    let fourth = |c: f64| {
        let square = (c + KELVIN) * (c + KELVIN);
        square * square
    };
    STEFAN_BOLTZMANN * (fourth(hot_c) - fourth(cold_c))
}

/// One-dimensional brick wall of six nodes, hot face first.
#[derive(Debug, Clone)]
pub(crate) struct Wall {
    pub(crate) area_m2: f64,
    thickness_m: f64,
    /// Conductivity at 20 C, W per m K, and its growth, per C.
    conductivity: f64,
    growth_per_c: f64,
    /// Heat held, J per m3 K.
    heat_per_m3: f64,
    nodes_c: [f64; NODES],
}

impl Wall {
    pub(crate) fn new(area_m2: f64, thickness_m: f64, conductivity: f64, density: f64) -> Self {
        Self {
            area_m2,
            thickness_m,
            conductivity,
            growth_per_c: 8e-4,
            heat_per_m3: 1_050.0 * density,
            nodes_c: [20.0; NODES],
        }
    }

    pub(crate) fn face_c(&self) -> f64 {
        self.nodes_c[0]
    }

    /// Lets heat into the hot face for a while and gives the heat that left outside, J.
    pub(crate) fn step(&mut self, seconds: f64, into_face_w: f64, room_c: f64, wind: f64) -> f64 {
        let depth = self.thickness_m / NODES as f64;
        let mut flows_w = [0.0; NODES + 1];
        flows_w[0] = into_face_w;
        for (flow, pair) in flows_w[1..].iter_mut().zip(self.nodes_c.windows(2)) {
            let mean_c = f64::midpoint(pair[0], pair[1]);
            let conductivity = self.conductivity * (1.0 + self.growth_per_c * (mean_c - 20.0));
            *flow = self.area_m2 * conductivity * (pair[0] - pair[1]) / depth;
        }
        let skin_c = self.nodes_c[NODES - 1];
        let air = (6.0 + 4.0 * wind.max(0.0)) * (skin_c - room_c);
        flows_w[NODES] = self.area_m2 * (air + 0.9 * radiated(skin_c, room_c));
        let held = self.heat_per_m3 * self.area_m2 * depth;
        for (c, pair) in self.nodes_c.iter_mut().zip(flows_w.windows(2)) {
            *c += seconds * (pair[0] - pair[1]) / held;
        }
        flows_w[NODES] * seconds
    }

    /// Heat held above 20 C, J.
    pub(crate) fn stored_j(&self) -> f64 {
        let held = self.heat_per_m3 * self.area_m2 * self.thickness_m / NODES as f64;
        self.nodes_c.iter().map(|c| held * (c - 20.0)).sum()
    }
}

/// Ware and shelves, in a skin that sees the chamber and a core behind it.
#[derive(Debug, Clone)]
pub(crate) struct Ware {
    pub(crate) area_m2: f64,
    mass_kg: f64,
    /// Heat that bound water takes with it, J a kg of the whole, around 560 C.
    water_j_per_kg: f64,
    core_lag_s: f64,
    pub(crate) skin_c: f64,
    pub(crate) core_c: f64,
}

impl Ware {
    const SKIN: f64 = 0.4;

    pub(crate) fn new(area_m2: f64, mass_kg: f64, water_j_per_kg: f64, core_lag_s: f64) -> Self {
        Self { area_m2, mass_kg, water_j_per_kg, core_lag_s, skin_c: 20.0, core_c: 20.0 }
    }

    const WATER_LEAVES_C: f64 = 560.0;
    const WATER_SPREAD_C: f64 = 22.0;

    /// Share of the bound water that is gone at a temperature.
    fn dry(c: f64) -> f64 {
        1.0 / (1.0 + ((Self::WATER_LEAVES_C - c) / Self::WATER_SPREAD_C).exp())
    }

    /// J per kg K: fired clay, and the bound water where it leaves.
    fn heat_per_kg(&self, c: f64) -> f64 {
        let dry = Self::dry(c);
        850.0 + 0.25 * c + self.water_j_per_kg * dry * (1.0 - dry) / Self::WATER_SPREAD_C
    }

    /// Heat taken up since 20 C, J: the integral of `heat_per_kg`.
    pub(crate) fn stored_j(&self) -> f64 {
        let held = |c: f64| 850.0 * c + 0.125 * c * c + self.water_j_per_kg * Self::dry(c);
        let per_kg = |c: f64| held(c) - held(20.0);
        self.mass_kg * (Self::SKIN * per_kg(self.skin_c) + (1.0 - Self::SKIN) * per_kg(self.core_c))
    }

    pub(crate) fn step(&mut self, seconds: f64, into_skin_w: f64) {
        let core_kg = self.mass_kg * (1.0 - Self::SKIN);
        let core_heat = core_kg * self.heat_per_kg(self.core_c);
        let inward_w = core_kg * 1_000.0 * (self.skin_c - self.core_c) / self.core_lag_s;
        self.core_c += seconds * inward_w / core_heat;
        let skin_heat = self.mass_kg * Self::SKIN * self.heat_per_kg(self.skin_c);
        self.skin_c += seconds * (into_skin_w - inward_w) / skin_heat;
    }
}
