//! Made adjusters whose truth is known, walked in steps of half a millibar; shares no code and no formula with the model that
//! is fitted.
//!
//! An adjuster is a table of its slope over the vacuum: none up to the dead band, a slope that may bend (it grows or falls
//! exponentially along the way), none from the end stop on; soft corners let the slope come and go along a ramp about the
//! corner. Play holds the place while vacuum is released, and sticking holds the beam until it lags by a jump.
//!
//! **Gain** is the mean slope between the corners: what the beam travels from rest to its end stop, or to the highest vacuum
//! where no stop comes before it, by the vacuum between the dead band and there. **Dead band** and **end stop** of a soft corner
//! are where the straight parts beside it would meet.
//!
//! A reading has a white error and one of the wall, which is a fixed function of the height. The gauge has an error that is a
//! fixed function of what it shows, and what is typed is rounded.

use super::{Draw, Tape, reading};
use crate::aim::ShotReading;
use crate::record::{Branch, Shot, Side, Stage};

/// Step of the walk, mbar.
const STEP_MBAR: f64 = 0.5;
/// The table of the slope ends here, mbar.
const MOST_MBAR: f64 = 1100.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    Sharp,
    Soft,
    Bent,
    SoftAndBent,
    /// Against its stop half-way.
    PartWay,
    Slipping,
    Stuck,
}

pub const KINDS: [Kind; 7] = [
    Kind::Sharp,
    Kind::Soft,
    Kind::Bent,
    Kind::SoftAndBent,
    Kind::PartWay,
    Kind::Slipping,
    Kind::Stuck,
];

/// The figures that an adjuster was made with.
#[derive(Debug, Clone)]
pub struct Made {
    pub kind: Kind,
    pub rest_percent: f64,
    pub gain_percent_per_100_mbar: f64,
    pub dead_band_mbar: f64,
    pub end_stop_mbar: f64,
    pub play_mbar: f64,
    /// Half-widths of the ramps about dead band and end stop, mbar.
    pub ramps_mbar: [f64; 2],
    /// Natural logarithm of the slope's ratio from end to beginning.
    pub bend: f64,
    pub jump_percent: f64,
    pub highest_mbar: f64,
    /// Travel at each step of the table, per cent.
    travel: Vec<f64>,
}

impl Made {
    pub fn draw(draw: &mut Draw, kind: Kind) -> Self {
        let sign = if draw.chance(0.75) { -1.0 } else { 1.0 };
        let end_stop_mbar = match kind {
            Kind::PartWay => draw.between(180.0, 300.0),
            _ if draw.chance(0.6) => draw.between(320.0, 440.0),
            _ => 2000.0,
        };
        let soft = matches!(kind, Kind::Soft | Kind::SoftAndBent);
        let bent = matches!(kind, Kind::Bent | Kind::SoftAndBent);
        let ramp = |draw: &mut Draw| if soft { draw.between(10.0, 60.0) } else { 0.01 };
        let mut made = Self {
            kind,
            rest_percent: draw.between(1.5, 3.2),
            gain_percent_per_100_mbar: if kind == Kind::Stuck {
                0.0
            } else {
                sign * draw.between(0.25, 0.8)
            },
            dead_band_mbar: draw.between(20.0, 110.0),
            end_stop_mbar,
            play_mbar: if draw.chance(0.2) { 0.0 } else { draw.between(3.0, 50.0) },
            ramps_mbar: [ramp(draw), ramp(draw)],
            bend: if bent { draw.between(-0.7, 0.7) } else { 0.0 },
            jump_percent: if kind == Kind::Slipping {
                draw.between(0.2, 0.4)
            } else {
                0.0
            },
            highest_mbar: draw.between(450.0, 550.0),
            travel: Vec::new(),
        };
        made.tabulate();
        made
    }

    fn tabulate(&mut self) {
        let end = self.end_stop_mbar.min(self.highest_mbar);
        let ramp = |at: f64, half: f64| (0.5 + 0.5 * at / half).clamp(0.0, 1.0);
        let slope = |vacuum: f64| {
            let along = ((vacuum - self.dead_band_mbar) / (end - self.dead_band_mbar)).clamp(0.0, 1.0);
            let comes = ramp(vacuum - self.dead_band_mbar, self.ramps_mbar[0]);
            let goes = 1.0 - ramp(vacuum - self.end_stop_mbar, self.ramps_mbar[1]);
            (self.bend * along).exp() * comes * goes
        };
        let mut sum = 0.0;
        let steps = (MOST_MBAR / STEP_MBAR) as usize;
        let mut travel = vec![0.0];
        for n in 0..steps {
            sum += STEP_MBAR * slope((n as f64 + 0.5) * STEP_MBAR);
            travel.push(sum);
        }
        // Scaled to the gain as it is defined: the whole travel by the vacuum between the corners.
        let whole = if self.end_stop_mbar < self.highest_mbar {
            sum
        } else {
            at_step(&travel, self.highest_mbar)
        };
        let scale = self.gain_percent_per_100_mbar / 100.0 * (end - self.dead_band_mbar) / whole;
        self.travel = travel.iter().map(|sum| sum * scale).collect();
    }

    /// Travel from rest at an applied vacuum, per cent.
    pub fn travel_percent(&self, vacuum_mbar: f64) -> f64 {
        at_step(&self.travel, vacuum_mbar)
    }

    pub fn has_stop(&self) -> bool {
        self.end_stop_mbar < self.highest_mbar
    }
}

fn at_step(table: &[f64], vacuum_mbar: f64) -> f64 {
    let place = (vacuum_mbar / STEP_MBAR).clamp(0.0, (table.len() - 2) as f64);
    let (n, part) = (place.floor() as usize, place.fract());
    table[n] * (1.0 - part) + table[n + 1] * part
}

/// The adjuster at work.
pub struct Walk<'a> {
    made: &'a Made,
    vacuum_mbar: f64,
    /// Applied vacuum that would hold the actuator where it is, mbar.
    place_mbar: f64,
    beam_percent: f64,
    next_jump_percent: f64,
}

impl<'a> Walk<'a> {
    pub fn new(made: &'a Made) -> Self {
        Self {
            made,
            vacuum_mbar: 0.0,
            place_mbar: 0.0,
            beam_percent: 0.0,
            next_jump_percent: made.jump_percent,
        }
    }

    /// Inclination at a vacuum, per cent, to which the walk goes straight.
    pub fn to(&mut self, vacuum_mbar: f64, draw: &mut Draw) -> f64 {
        let steps = ((vacuum_mbar - self.vacuum_mbar).abs() / STEP_MBAR).ceil().max(1.0);
        let step = (vacuum_mbar - self.vacuum_mbar) / steps;
        for _ in 0..steps as usize {
            self.vacuum_mbar += step;
            self.place_mbar = self
                .place_mbar
                .clamp(self.vacuum_mbar, self.vacuum_mbar + self.made.play_mbar);
            let target = self.made.travel_percent(self.place_mbar);
            if (target - self.beam_percent).abs() >= self.next_jump_percent {
                self.beam_percent = target;
                self.next_jump_percent = self.made.jump_percent * draw.between(0.75, 1.25);
            }
        }
        self.made.rest_percent + self.beam_percent
    }
}

/// What takes a photo of a beam at an inclination, per cent, at a time of the camera's clock.
pub type Take<'a> = dyn FnMut(Shot, f64, Option<&str>, &mut Draw) + 'a;

/// The gauge, and whoever works the pump by it.
pub struct Gauge {
    pub round_to_mbar: f64,
    full_scale_mbar: f64,
    /// Share of the scale's end by which the gauge is wrong, at the most.
    class: f64,
    shape: [f64; 3],
}

impl Gauge {
    pub fn draw(draw: &mut Draw) -> Self {
        Self {
            round_to_mbar: if draw.chance(0.5) { 5.0 } else { 10.0 },
            full_scale_mbar: if draw.chance(0.7) { 600.0 } else { 1000.0 },
            class: draw.between(0.0, 0.02),
            shape: [draw.between(-1.0, 1.0), draw.between(0.6, 2.5), draw.between(-1.0, 1.0)],
        }
    }

    /// Error of the gauge where it shows `shown_mbar`, mbar: up to the class, a wrong scale and a wave along it, and none at 0.
    fn error_mbar(&self, shown_mbar: f64) -> f64 {
        let along = shown_mbar / 500.0;
        let [scale, waves, size] = self.shape;
        let wave = (1.0 - scale.abs()) * size * (std::f64::consts::TAU * waves * along / 2.0).sin();
        self.class * self.full_scale_mbar * (scale * along + wave).clamp(-1.0, 1.0)
    }

    /// What the job says of the gauge, mbar: the default, or where the scale is long, a hundredth of it.
    fn stated_sd_mbar(&self) -> Option<f64> {
        (self.full_scale_mbar > 600.0).then_some(0.01 * self.full_scale_mbar)
    }

    fn typed(&self, shown_mbar: f64) -> String {
        format!(
            "{} mbar",
            (shown_mbar / self.round_to_mbar).round() * self.round_to_mbar
        )
    }

    fn shot(&self, photo: String) -> Shot {
        Shot {
            vacuum_sd: self.stated_sd_mbar().map(|sd| format!("{sd} mbar").parse().unwrap()),
            stage: Some(Stage::After),
            ..Shot::of(photo, Side::Left)
        }
    }

    /// Photos from none to the highest vacuum and back; gives the beam's true travel at the highest, per cent.
    pub fn respond(&self, made: &Made, steps: usize, draw: &mut Draw, take: &mut Take<'_>) -> f64 {
        let mut walk = Walk::new(made);
        let mut highest = 0.0;
        let up = (0..=steps).map(|n| (n, Branch::Applying));
        let down = (0..steps).rev().map(|n| (n, Branch::Releasing));
        for (number, (n, branch)) in up.chain(down).enumerate() {
            let shown_mbar = if n == 0 {
                0.0
            } else if n == steps {
                made.highest_mbar
            } else {
                made.highest_mbar * n as f64 / steps as f64 + draw.between(-6.0, 6.0)
            };
            let percent = walk.to((shown_mbar - self.error_mbar(shown_mbar)).max(0.0), draw);
            if n == steps {
                highest = percent - made.rest_percent;
            }
            let shot = Shot {
                vacuum: self.typed(shown_mbar).parse().ok(),
                branch: Some(branch),
                ..self.shot(format!("pump-{number}.jpg"))
            };
            take(shot, percent, None, draw);
        }
        highest
    }

    /// Photos with the valve shut.
    pub fn leak_down(&self, made: &Made, leak: &MadeLeak, draw: &mut Draw, take: &mut Take<'_>) {
        let mut walk = Walk::new(made);
        walk.to(leak.start_mbar + leak.release_mbar, draw);
        walk.to(leak.start_mbar, draw);
        let phase_s = draw.between(0.0, 1.0);
        for n in 0..leak.photos {
            let time_s = leak.duration_s * n as f64 / (leak.photos - 1) as f64;
            let percent = walk.to(leak.vacuum_mbar(time_s), draw);
            let shown = (time_s + phase_s).floor() as u32;
            let (hours, minutes, seconds) = (20 + shown / 3600, shown / 60 % 60, shown % 60);
            let taken = format!("2031-03-04T{hours:02}:{minutes:02}:{seconds:02}");
            let gauge_mbar = leak.start_mbar + self.error_mbar(leak.start_mbar);
            let gauge_is_typed = n == 0 && leak.gauge_is_typed;
            let mut shot = Shot {
                sealed: true,
                vacuum: self.typed(gauge_mbar).parse().ok().filter(|_| gauge_is_typed),
                ..self.shot(format!("leak-{n}.jpg"))
            };
            shot.vacuum_sd = shot.vacuum_sd.filter(|_| gauge_is_typed);
            take(shot, percent, Some(&taken), draw);
        }
    }
}

/// What a made wall and a made camera make of it, without photos.
pub struct Site {
    /// One standard deviation of the white error, per cent.
    pub white_sd_percent: f64,
    pub wall_rms_percent: f64,
    /// Wave numbers, per cent, and phases of the wall's error.
    wall: Vec<(f64, f64)>,
    gauge: Gauge,
}

impl Site {
    pub fn draw(draw: &mut Draw) -> Self {
        const WAVES: usize = 40;
        let length_percent = draw.between(0.05, 0.3);
        Self {
            white_sd_percent: draw.between(0.01, 0.03) / 1.96,
            wall_rms_percent: draw.between(0.005, 0.02),
            wall: (0..WAVES)
                .map(|_| (draw.normal() / length_percent, draw.between(0.0, std::f64::consts::TAU)))
                .collect(),
            gauge: Gauge::draw(draw),
        }
    }

    /// Error of a reading at a height, per cent.
    fn wall_error(&self, percent: f64) -> f64 {
        let waves: f64 = self.wall.iter().map(|(k, phase)| (k * percent + phase).cos()).sum();
        self.wall_rms_percent * waves * (2.0 / self.wall.len() as f64).sqrt()
    }

    fn read(&self, shot: Shot, percent: f64, taken: Option<&str>, tape: &Tape, draw: &mut Draw) -> ShotReading {
        let read = percent + self.wall_error(percent) + self.white_sd_percent * draw.normal();
        reading(shot, read, self.white_sd_percent, tape, taken)
    }

    /// As [`Gauge::respond`], with the readings.
    pub fn respond(&self, made: &Made, steps: usize, tape: &Tape, draw: &mut Draw) -> (Vec<ShotReading>, f64) {
        let mut readings = Vec::new();
        let highest = self
            .gauge
            .respond(made, steps, draw, &mut |shot, percent, taken, draw| {
                readings.push(self.read(shot, percent, taken, tape, draw));
            });
        (readings, highest)
    }

    /// As [`Gauge::leak_down`], with the readings.
    pub fn leak_down(&self, made: &Made, leak: &MadeLeak, tape: &Tape, draw: &mut Draw) -> Vec<ShotReading> {
        let mut readings = Vec::new();
        self.gauge
            .leak_down(made, leak, draw, &mut |shot, percent, taken, draw| {
                readings.push(self.read(shot, percent, taken, tape, draw));
            });
        readings
    }
}

/// A leak-down.
#[derive(Debug, Clone, Copy)]
pub struct MadeLeak {
    pub start_mbar: f64,
    /// How far the pump was released before the valve was shut, mbar.
    pub release_mbar: f64,
    /// Infinite for a tight system.
    pub time_constant_s: f64,
    /// Where the leak stops, mbar.
    pub residual_mbar: f64,
    pub duration_s: f64,
    pub photos: usize,
    pub gauge_is_typed: bool,
}

impl MadeLeak {
    /// One third tight, the others 0.4 to 4 time constants long, one third of them with a residual vacuum. The start lies on
    /// the slope, as the list of photos asks for.
    pub fn draw(draw: &mut Draw, made: &Made) -> Self {
        let duration_s = draw.between(120.0, 600.0);
        let end = made.end_stop_mbar.min(made.highest_mbar) - made.dead_band_mbar;
        let start_mbar = made.dead_band_mbar + end * draw.between(0.55, 0.9) - 0.5 * made.play_mbar;
        let release_mbar = match draw.between(0.0, 3.0) as usize {
            0 => 0.0,
            1 => draw.between(0.0, 1.0) * made.play_mbar,
            _ => made.play_mbar + draw.between(2.0, 20.0),
        };
        let leaks = draw.chance(0.67);
        Self {
            start_mbar,
            release_mbar,
            time_constant_s: if leaks {
                duration_s / draw.between(0.4, 4.0)
            } else {
                f64::INFINITY
            },
            residual_mbar: if leaks && draw.chance(0.33) {
                start_mbar * draw.between(0.15, 0.6)
            } else {
                0.0
            },
            duration_s,
            photos: draw.between(10.0, 21.0) as usize,
            gauge_is_typed: draw.chance(0.5),
        }
    }

    pub fn leaks(&self) -> bool {
        self.time_constant_s.is_finite()
    }

    pub fn vacuum_mbar(&self, time_s: f64) -> f64 {
        self.residual_mbar + (self.start_mbar - self.residual_mbar) * (-time_s / self.time_constant_s).exp()
    }

    pub fn lost_mbar(&self) -> f64 {
        self.start_mbar - self.vacuum_mbar(self.duration_s)
    }

    pub fn start_rate_mbar_per_min(&self) -> f64 {
        60.0 * (self.start_mbar - self.residual_mbar) / self.time_constant_s
    }
}
