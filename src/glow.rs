//! The colour of a glowing chamber, from Planck's law and the eye's standard observer.
//!
//! A closed kiln is very nearly a black body. Its spectrum is weighed with the colour-matching
//! functions of the CIE 1931 2 degree observer (CIE 015; `assets/cie_1931_2deg_5nm.csv`, every
//! 5 nm) and taken to linear sRGB with the D65 matrix of IEC 61966-2-1 in ten digits.
//!
//! From 800 K to 1600 K the luminance grows more than a millionfold, so that no fixed exposure
//! could show it. An eye adapts: above [`EYE_ADAPTS`] it does so wholly, and the largest component
//! is full whatever the temperature. Below that the eye runs out of light, and what is shown falls
//! with the logarithm of the luminance (Weber and Fechner) to nothing at [`EYE_SEES`]; the
//! chromaticity stays Planck's all the way. Every black body below about 1900 K lies outside the
//! gamut of sRGB; negative components are clipped to nought. Below the first visible glow the
//! chamber is dark.
//!
//! The other way, from a colour that somebody named to a temperature, is [`GlowWord`].

use std::sync::OnceLock;

use crate::units::Celsius;

const OBSERVER: &str = include_str!("../assets/cie_1931_2deg_5nm.csv");

/// The first visible glow of a solid: 798 K, the Draper point (from memory; "just visible" at
/// 525 C in the published scales of red heat).
pub const FIRST_GLOW: Celsius = Celsius(524.85);

/// Luminance from which on the eye sees by its cones alone, in full colour, and adapts to whatever
/// there is: the upper end of mesopic vision, cd/m2 (CIE 191:2010, from memory). A black body
/// reaches it at 752 C.
pub const EYE_ADAPTS: f64 = 5.0;
/// Luminance below which the eye sees no colour: the lower end of mesopic vision, cd/m2 (CIE
/// 191:2010, from memory). The first glow, 0.0076 cd/m2 at the Draper point, lies just above it.
pub const EYE_SEES: f64 = 0.005;

const KELVIN_AT_ZERO_C: f64 = 273.15;
/// Second radiation constant, m K, and twice h c squared, W m2: exact since the SI of 2019.
const C2: f64 = 1.438_776_877e-2;
const TWICE_HCC: f64 = 2.0 * 6.626_070_15e-34 * 299_792_458.0 * 299_792_458.0;
const STEP_M: f64 = 5e-9;
/// Luminous efficacy, lm/W.
const EFFICACY: f64 = 683.0;

/// From XYZ to linear sRGB, white point D65.
const TO_SRGB: [[f64; 3]; 3] = [
    [3.2404541621, -1.5371385128, -0.4985314096],
    [-0.9692660305, 1.8760108454, 0.0415560175],
    [0.0556434310, -0.2040259135, 1.0572251882],
];

/// The light of a black body, as seen by the standard observer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glow {
    /// Chromaticity x and y, CIE 1931.
    pub x: f64,
    pub y: f64,
    /// Luminance, cd/m2.
    pub luminance: f64,
    /// Linear sRGB with its largest component 1; below 0 where sRGB cannot show it.
    pub linear: [f64; 3],
}

impl Glow {
    /// The glow at a temperature, or `None` while nothing is to be seen.
    pub fn of(chamber: Celsius) -> Option<Glow> {
        (chamber.0 >= FIRST_GLOW.0).then(|| Glow::of_black_body(chamber.0 + KELVIN_AT_ZERO_C))
    }

    /// The light of a black body at `kelvin`, above 0, visible or not.
    pub fn of_black_body(kelvin: f64) -> Glow {
        let mut xyz = [0.0; 3];
        for sample in observer() {
            let radiance = radiance(sample.wavelength, kelvin) * STEP_M * EFFICACY;
            for (sum, weight) in xyz.iter_mut().zip(sample.weights) {
                *sum += radiance * weight;
            }
        }
        let whole: f64 = xyz.iter().sum();
        let linear = TO_SRGB.map(|row| row.iter().zip(xyz).map(|(m, v)| m * v).sum::<f64>());
        let largest = linear.into_iter().fold(f64::MIN_POSITIVE, f64::max);
        Glow {
            x: xyz[0] / whole,
            y: xyz[1] / whole,
            luminance: xyz[1],
            linear: linear.map(|component| component / largest),
        }
    }

    /// How bright it looks beside a glow the eye is wholly adapted to: 0 to 1 in steps that look
    /// alike, which is what the gamma of sRGB encodes.
    pub fn brightness(&self) -> f64 {
        ((self.luminance / EYE_SEES).ln() / (EYE_ADAPTS / EYE_SEES).ln()).clamp(0.0, 1.0)
    }

    /// The colour to show, red, green and blue, 0 to 255: clipped, darkened as far as the eye
    /// cannot adapt, and gamma encoded.
    pub fn colour(&self) -> (u8, u8, u8) {
        let exposure = decoded(self.brightness());
        let [red, green, blue] = self.linear.map(|component| encoded(component * exposure));
        (red, green, blue)
    }
}

closed! {
    /// A word for the colour of the glow, the coolest first: the heat colours of W. A. J. Chapman,
    /// "Workshop Technology", as the encyclopaedia article "Red heat" quotes them.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum GlowWord {
        /// Nothing glows yet: a word of our own.
        NoGlow => "no glow",
        BlackRed => "black red",
        VeryDarkRed => "very dark red",
        DarkRed => "dark red",
        Cherry => "cherry",
        LightCherry => "light cherry",
        Orange => "orange",
        Yellow => "yellow",
        YellowWhite => "yellow white",
        White => "white",
    }
}

closed! {
    /// How light it is around the kiln.
    pub enum Room {
        Dark => "dark",
        Light => "light",
    }
}

/// Error of a temperature that was judged by the colour of the glow, C, as one standard deviation, in
/// a dark room and in any other. The published scales put one word up to 150 C apart (full cherry is
/// 746 C with White and Taylor, from memory, and 900 C in the older scales), which is a little more
/// than the former either way (a guess).
pub const JUDGED_IN_THE_DARK_C: f64 = 60.0;
pub const JUDGED_IN_LIGHT_C: f64 = 100.0;

impl GlowWord {
    /// From where to where it is said, C, as published; white is open above, and no glow below, and
    /// those ends are guesses.
    pub fn range_c(self) -> (f64, f64) {
        match self {
            GlowWord::NoGlow => (200.0, 425.0),
            GlowWord::BlackRed => (426.0, 593.0),
            GlowWord::VeryDarkRed => (594.0, 704.0),
            GlowWord::DarkRed => (705.0, 814.0),
            GlowWord::Cherry => (815.0, 870.0),
            GlowWord::LightCherry => (871.0, 981.0),
            GlowWord::Orange => (982.0, 1092.0),
            GlowWord::Yellow => (1093.0, 1258.0),
            GlowWord::YellowWhite => (1259.0, 1314.0),
            GlowWord::White => (1315.0, 1400.0),
        }
    }

    /// The middle of that range; of a glow without what is too dark to be seen.
    pub fn middle(self) -> Celsius {
        let (low, high) = self.range_c();
        let seen_from = if self == GlowWord::NoGlow { low } else { low.max(FIRST_GLOW.0) };
        Celsius((seen_from + high) / 2.0)
    }

    /// Standard deviation of [`Self::middle`] as a temperature of the chamber, C.
    pub fn error_c(self, room: Room) -> f64 {
        let (low, high) = self.range_c();
        let judged = match room {
            Room::Dark => JUDGED_IN_THE_DARK_C,
            Room::Light => JUDGED_IN_LIGHT_C,
        };
        judged.hypot((high - low) / 12.0_f64.sqrt())
    }
}

/// One row of the observer's table.
#[derive(Debug)]
struct Sample {
    /// Metres.
    wavelength: f64,
    weights: [f64; 3],
}

/// Spectral radiance of a black body, W per m2, sr and m.
fn radiance(wavelength: f64, kelvin: f64) -> f64 {
    TWICE_HCC / wavelength.powi(5) / (C2 / (wavelength * kelvin)).exp_m1()
}

fn observer() -> &'static [Sample] {
    static SAMPLES: OnceLock<Vec<Sample>> = OnceLock::new();
    SAMPLES.get_or_init(|| OBSERVER.lines().skip(1).map(sample).collect())
}

/// The table is part of the program, so that a row which is no row is a mistake of ours.
fn sample(row: &str) -> Sample {
    let mut numbers = row.split(',').map(|number| {
        number.parse::<f64>().unwrap_or_else(|_| panic!("no number in the observer's row {row}"))
    });
    let mut next = || numbers.next().unwrap_or_else(|| panic!("the observer's row {row} is short"));
    Sample { wavelength: next() * 1e-9, weights: [next(), next(), next()] }
}

/// The inverse of the transfer function of sRGB (IEC 61966-2-1), from and to 0 to 1.
fn decoded(value: f64) -> f64 {
    if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The transfer function of sRGB (IEC 61966-2-1), as 8 bits.
fn encoded(linear: f64) -> u8 {
    let linear = linear.clamp(0.0, 1.0);
    let value =
        if linear <= 0.003_130_8 { 12.92 * linear } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 };
    (255.0 * value).round() as u8
}
