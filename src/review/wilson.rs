//! Shares from counts, with the interval a small count deserves.
//!
//! Wilson's score interval (Wilson 1927; Newcombe 1998, Statistics in Medicine 17:857, method 3),
//! and for the difference of two shares Newcombe's hybrid of two of them (same volume, p. 873,
//! method 10). Both keep within 0 to 1 and stay honest for 0 of 4.

/// The normal quantile of a two-sided 95 % interval.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// Below this many firings no share is stated, only the count.
pub const FEWEST_TO_SAY: usize = 8;

/// A 95 % interval wider than this says nothing worth acting on.
pub const WIDEST_TO_SAY: f64 = 0.5;

/// A share and its interval, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    pub hits: usize,
    pub of: usize,
    pub low: f64,
    pub high: f64,
}

/// A difference of two shares and its interval, each -1 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    pub difference: f64,
    pub low: f64,
    pub high: f64,
}

/// Wilson's interval for `hits` of `of` at the normal quantile `z`; 0 to 1 when `of` is 0.
pub fn interval(hits: usize, of: usize, z: f64) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, share) = (of as f64, hits as f64 / of as f64);
    let z2 = z * z;
    let centre = share + z2 / (2.0 * n);
    let half = z * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z2 / n;
    // At the ends the two terms cancel exactly on paper, but not in floating point.
    let low = if hits == 0 { 0.0 } else { ((centre - half) / scale).max(0.0) };
    let high = if hits == of { 1.0 } else { ((centre + half) / scale).min(1.0) };
    (low, high)
}

impl Share {
    /// With its 95 % interval.
    pub fn new(hits: usize, of: usize) -> Share {
        let (low, high) = interval(hits, of, Z_95);
        Share { hits, of, low, high }
    }

    /// The share itself; `None` of nothing.
    pub fn value(self) -> Option<f64> {
        (self.of > 0).then(|| self.hits as f64 / self.of as f64)
    }

    /// Whether there is enough to speak of a share at all: at least [`FEWEST_TO_SAY`] cases and an
    /// interval no wider than [`WIDEST_TO_SAY`].
    pub fn says_something(self) -> bool {
        self.of >= FEWEST_TO_SAY && self.high - self.low <= WIDEST_TO_SAY
    }

    /// `46 of 50: 92 % (81 to 97 %)`, or `3 of 4: too few to say`.
    pub fn text(self) -> String {
        let Share { hits, of, low, high } = self;
        match self.value() {
            Some(value) if self.says_something() => format!(
                "{hits} of {of}: {:.0} % ({:.0} to {:.0} %)",
                value * 100.0,
                low * 100.0,
                high * 100.0
            ),
            _ => format!("{hits} of {of}: too few to say"),
        }
    }

    /// `self` less `other`, with Newcombe's 95 % interval; `None` if either is of nothing.
    pub fn less(self, other: Share) -> Option<Difference> {
        let (a, b) = (self.value()?, other.value()?);
        let below = ((a - self.low).powi(2) + (other.high - b).powi(2)).sqrt();
        let above = ((self.high - a).powi(2) + (b - other.low).powi(2)).sqrt();
        Some(Difference { difference: a - b, low: a - b - below, high: a - b + above })
    }
}

impl Difference {
    /// Whether the interval leaves zero out.
    pub fn is_clear(self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}
