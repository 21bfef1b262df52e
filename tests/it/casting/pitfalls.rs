//! What the trade stumbles over at the bench, and the program does not.

use spyhole::testing::casting::air::Air;
use spyhole::testing::casting::dose::Dose;
use spyhole::testing::casting::{Advice, Casting, Event as Noted, Found, Learned, What as Bench};

use crate::prelude::*;

/// A Monday at midnight.
const MONDAY: Moment = Moment(1_767_571_200_000);

#[derive(Clone, Default)]
struct Notes(Vec<Noted>);

impl Notes {
    fn add(&mut self, hours: f64, what: Bench) {
        self.0.push(Noted { at: MONDAY + Span::from_hours(hours), what });
    }

    fn pour(&mut self, code: &str, hours: f64) {
        self.add(hours, Bench::Poured { mould: code.into(), body: "white".into() });
    }

    fn drain(&mut self, code: &str, hours: f64) {
        self.add(hours, Bench::Drained { mould: code.into() });
    }

    fn check(&mut self, code: &str, hours: f64, found: Found) {
        self.add(hours, Bench::Check { mould: code.into(), found });
    }

    /// Casts of A1 every other day from this one on, that let go between 18 and 22 hours.
    fn casts(&mut self, first: u32, found: Found) {
        for nth in 0..6 {
            let at = 24.0 * f64::from(first + 2 * nth);
            self.pour("A1", at);
            self.drain("A1", at + 0.3);
            self.check("A1", at + 18.3, Found::NotYet);
            self.check("A1", at + 22.3, found);
        }
    }

    fn six() -> Notes {
        let mut notes = Notes::default();
        notes.casts(0, Found::Well);
        notes
    }

    fn casting(&self, hours: f64) -> Casting {
        Casting::new(self.0.clone(), None, MONDAY + Span::from_hours(hours)).unwrap()
    }

    /// What is said of A1 then, or of A1 poured then.
    fn advice(&self, hours: f64) -> Advice {
        let casting = self.casting(hours);
        let if_poured = casting.full[0].is_none().then_some("white");
        Learned::new(&casting).advice(&casting, 0, if_poured).unwrap()
    }
}

/// ln of the end of the window over its beginning.
fn width(advice: &Advice) -> f64 {
    let hours = |at: Moment| (at - advice.cast.drained).as_hours();
    (hours(advice.window.opens_p95) / hours(advice.window.opens_p05)).ln()
}

/// Age counts from draining, and the first cast of a mould that rested for weeks is not like the others.
#[test]
fn law_a_cast_of_which_less_is_known_is_told_wider() {
    let (mut noted, mut undrained) = (Notes::six(), Notes::six());
    noted.pour("A1", 288.0);
    undrained.pour("A1", 288.0);
    noted.drain("A1", 288.3);
    let usual = width(&noted.advice(289.0));
    assert!(width(&undrained.advice(289.0)) > 1.02 * usual);
    assert!(width(&Notes::six().advice(288.0 + 24.0 * 25.0)) > 1.1 * usual);
}

/// A crack of another cause and an opening that nobody noted say nothing of the hour; a cracked piece does.
#[test]
fn law_what_says_nothing_of_the_hour_teaches_nothing() {
    let told = |found: Option<Found>| {
        let mut notes = Notes::six();
        notes.pour("B2", 100.0);
        notes.drain("B2", 100.3);
        match found {
            Some(found) => notes.check("B2", 112.0, found),
            None => notes.pour("B2", 112.0),
        }
        notes.advice(288.0).window
    };
    assert_eq!(told(None), told(Some(Found::OtherCrack)));
    assert_ne!(told(None), told(Some(Found::Cracked)));
}

/// The late edge is sharpened by cracks alone, and few are seen: until then it is the trade's.
#[test]
fn law_the_late_edge_is_the_trades_until_five_pieces_cracked() {
    let mut notes = Notes::six();
    for nth in 0..5 {
        assert!(notes.advice(289.0 + 24.0 * f64::from(nth)).late_of_the_trade);
        notes.pour("B2", 290.0 + 24.0 * f64::from(nth));
        notes.check("B2", 310.0 + 24.0 * f64::from(nth), Found::Cracked);
    }
    assert!(!notes.advice(500.0).late_of_the_trade);
}

/// Near saturation the deficit is all error of the sensor.
#[test]
fn law_near_saturation_a_sensor_says_no_more() {
    let day = |humidity: f64| {
        let reading = |hour| (MONDAY + Span::hours(hour), Celsius(20.0), humidity);
        let readings: Vec<_> = (0..=48).map(reading).collect();
        let now = MONDAY + Span::hours(48);
        let air = Air::new(&readings, now, now + Span::hours(48));
        Dose::new(air.as_ref(), 1.0).between(MONDAY, MONDAY + Span::hours(24))
    };
    assert_abs_diff_eq!(day(0.98), day(1.0), epsilon = 1e-9);
    assert!(day(0.9) > 2.0 * day(1.0));
}

/// Season and wear look alike within a quarter: a dozen casts decide on no exponent of the air.
#[test]
fn law_few_casts_leave_open_what_the_air_does() {
    let mut notes = Notes::six();
    notes.casts(12, Found::Well);
    for morning in 0..24 {
        let humidity = 0.6 + 0.1 * (f64::from(morning) / 3.0).sin();
        notes
            .add(24.0 * f64::from(morning) + 8.0, Bench::Room { celsius: Celsius(20.0), humidity });
    }
    let learned = Learned::new(&notes.casting(576.0));
    let chance = |fits: &[(_, f64)]| fits.iter().map(|(_, chance)| chance).sum::<f64>();
    let chances: Vec<f64> = learned.under.iter().map(|under| chance(&under.fits)).collect();
    assert!(chances.len() >= 3 && chances.iter().all(|chance| *chance < 0.7), "{chances:?}");
}

/// How dry a mould is nobody sees: what is said is how long it rested.
#[test]
fn law_a_mould_is_said_to_have_rested_and_never_to_be_dry() {
    let bench = BenchScene::of(Notes::six().casting(262.3 + 30.0));
    let (zone, clock, scale) = (&FixedZone::default(), Clock::default(), Scale::default());
    let line = spyhole::testing::words::mould_line(
        &bench.moulds[0],
        MONDAY + Span::from_hours(292.3),
        &Dial { zone, clock, scale },
    );
    assert!(line.contains("empty, rested 30 h"), "{line}");
}
