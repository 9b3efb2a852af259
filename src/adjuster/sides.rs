//! The left lamp against the right one, position by position.

use super::mean::Mean;
use super::positions::LampPositions;
use crate::aim::{COVERAGE_FACTOR_95, Common, Outcome};
use crate::language::{Language, said};
use crate::record::{AdjusterLimits, Band, Side, Stage};
use serde::Serialize;

/// One position at which both lamps were read, at one stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SideDifference {
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// The position.
    pub position: String,
    /// Inclination of the left lamp less that of the right one, per cent.
    pub difference_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
    /// Where the job sets a limit: whether the difference keeps to it.
    pub outcome: Option<Outcome>,
    /// Travel of the left lamp from the first position that both have, less that of the right one, per cent.
    pub travel_difference_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub travel_u95_percent: f64,
    /// Where the job sets a limit: whether the travels keep to it.
    pub travel_outcome: Option<Outcome>,
    /// At the last position that both have: the lamp whose travel is surely short beside the other's.
    pub short: Option<ShortTravel>,
}

/// A lamp that moves, but surely less than [`SHORT_SHARE`] of what the other lamp does over the same positions.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ShortTravel {
    /// The lamp that falls short.
    pub lamp: Side,
    /// First and last position.
    pub between: [String; 2],
    /// Its travel, per cent.
    pub percent: f64,
    /// The other lamp's travel, per cent.
    pub other_percent: f64,
    /// Whether the other lamp's was photographed before the repair, and this lamp's after it.
    pub other_before_repair: bool,
}

impl ShortTravel {
    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        let Self { lamp, between, .. } = self;
        let figure = |percent: f64| language.decimal((100.0 * percent.abs()).round() / 100.0, 2);
        let stem = lamp.stem();
        let other = figure(self.other_percent);
        let other = if self.other_before_repair {
            said!(
                language; "moved by {other} % before the repair",
                "vor der Reparatur um {other} % bewegte"
            )
        } else {
            said!(language; "moves by {other} %", "um {other} % bewegt")
        };
        said!(
            language;
            "the {lamp} beam moves by {} % only from {} to {}, where the other lamp's {other}",
            "der {stem}e Lichtkegel bewegt sich nur um {} % von {} bis {}, wo sich der des anderen Scheinwerfers {other}";
            figure(self.percent),
            between[0],
            between[1]
        )
    }
}

impl std::fmt::Display for ShortTravel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}

/// A lamp that moves less than this share of the other's travel is short: parts alike differ by less (our choice, no source).
pub(crate) const SHORT_SHARE: f64 = 0.7;
/// Standard deviations beyond which that is sure: once in 200 for lamps that lie on the limit.
pub(crate) const SURE_SDS: f64 = 2.576;

/// Which lamp's travel from the first means to the last is surely short of the other's, if one is. Each pair is the left lamp's
/// mean and the right one's.
fn short(first: (&Mean, &Mean), last: (&Mean, &Mean), between: [&str; 2]) -> Option<ShortTravel> {
    let travels = [last.0.percent - first.0.percent, last.1.percent - first.1.percent];
    [
        (Side::Left, travels, [1.0, SHORT_SHARE]),
        (Side::Right, [travels[1], travels[0]], [SHORT_SHARE, 1.0]),
    ]
    .into_iter()
    .find_map(|(lamp, [own, other], [left, right])| {
        // A beam that goes the other way is no short one.
        let way = other.signum();
        let variance = variance_percent2(
            &[(left, last.0), (-left, first.0)],
            &[(-right, last.1), (right, first.1)],
        );
        let lacks = SHORT_SHARE * other.abs() - way * own;
        (way * own > 0.0 && lacks > SURE_SDS * variance.sqrt()).then(|| ShortTravel {
            lamp,
            between: between.map(str::to_owned),
            percent: own,
            other_percent: other,
            other_before_repair: false,
        })
    })
}

/// Whether a lamp's travel after the repair is surely short of what the other lamp's was before it. A repair that did not touch that
/// lamp leaves its travel as the measure, also where nobody photographed it once more.
pub(super) fn short_of_before(of: &LampPositions, all: &[LampPositions]) -> Option<ShortTravel> {
    let is_after = |one: &LampPositions| one.stage == Some(Stage::After);
    let other = all.iter().find(|one| one.lamp != of.lamp && !is_after(one))?;
    let both = of.shared(other);
    let [(own_first, other_first), .., (own_last, other_last)] = both[..] else {
        return None;
    };
    let pair = |own, other| match of.lamp {
        Side::Left => (own, other),
        Side::Right => (other, own),
    };
    let found = short(
        pair(&own_first.mean, &other_first.mean),
        pair(&own_last.mean, &other_last.mean),
        [&own_first.position, &own_last.position],
    );
    found
        .filter(|short| is_after(of) && short.lamp == of.lamp)
        .map(|short| ShortTravel {
            other_before_repair: true,
            ..short
        })
}

/// Variance of a weighted sum of readings of both lamps, per cent squared. Each lamp's own sources (its height, its
/// distance, its edge) are independent of the other's; those of the bay (floor, sheets, lens) are the same source in both
/// and count with their signs: var(Σ wᵢ yᵢ) = Σᵢ Σⱼ wᵢ wⱼ cov(yᵢ, yⱼ) (JCGM 100:2008, 5.2.2).
fn variance_percent2(left: &[(f64, &Mean)], right: &[(f64, &Mean)]) -> f64 {
    let own: f64 = left
        .iter()
        .chain(right)
        .map(|(weight, mean)| weight.powi(2) * mean.own_variance_percent2)
        .sum();
    let shared = |side: &[(f64, &Mean)]| Common::sum(side.iter().map(|(weight, mean)| (*weight, &mean.common)));
    let (of_left, of_right) = (shared(left), shared(right));
    let bay = Common::sum([(1.0, &of_left), (1.0, &of_right)]);
    let squares = |values: &[f64]| values.iter().map(|v| v * v).sum::<f64>();
    own + squares(&of_left.lamp) + squares(&of_right.lamp) + squares(&bay.bay)
}

/// All positions at which both lamps were read at the same stage.
pub(super) fn sides(all: &[LampPositions], limits: &AdjusterLimits) -> Vec<SideDifference> {
    let mut differences = Vec::new();
    for left in all.iter().filter(|s| s.lamp == Side::Left) {
        let Some(right) = all.iter().find(|s| s.lamp == Side::Right && s.stage == left.stage) else {
            continue;
        };
        let both = left.shared(right);
        let means = both.iter().map(|(l, r)| (&l.mean, &r.mean));
        for ((l, r), (position, _)) in means.clone().zip(&both) {
            let percent = l.percent - r.percent;
            let u95_percent = COVERAGE_FACTOR_95 * variance_percent2(&[(1.0, l)], &[(-1.0, r)]).sqrt();
            let first = means.clone().next().filter(|_| position.position != both[0].0.position);
            let (travel_percent, travel_u95_percent) = first.map_or((0.0, 0.0), |(first_l, first_r)| {
                let variance = variance_percent2(&[(1.0, l), (-1.0, first_l)], &[(-1.0, r), (1.0, first_r)]);
                let first_percent = first_l.percent - first_r.percent;
                (percent - first_percent, COVERAGE_FACTOR_95 * variance.sqrt())
            });
            let is_last = both.last().is_some_and(|(at, _)| at.position == position.position);
            let short = first
                .filter(|_| is_last)
                .and_then(|first| short(first, (l, r), [&both[0].0.position, &position.position]));
            differences.push(SideDifference {
                stage: left.stage,
                position: position.position.clone(),
                difference_percent: percent,
                u95_percent,
                outcome: judged(percent, u95_percent, limits),
                travel_difference_percent: travel_percent,
                travel_u95_percent,
                travel_outcome: judged(travel_percent, travel_u95_percent, limits),
                short,
            });
        }
    }
    differences
}

fn judged(percent: f64, u95_percent: f64, limits: &AdjusterLimits) -> Option<Outcome> {
    limits.left_right_limit_percent.map(|limit_percent| {
        let band = Band {
            low_percent: -limit_percent,
            high_percent: limit_percent,
        };
        Outcome::of(percent, u95_percent, band)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::Aim;

    /// The reference: the double sum over covariances, each as the readings themselves give it.
    #[test]
    fn the_variance_is_the_double_sum_over_covariances() {
        let aim = |photo_sd: f64, lamp: [f64; 2], bay: [f64; 3]| {
            let common = Common {
                lamp: lamp.to_vec(),
                bay: bay.to_vec(),
                ..Common::default()
            };
            Aim::made_with(1.0, photo_sd, common)
        };
        let aims = [
            (true, 1.0, aim(0.02, [0.03, -0.01], [0.05, 0.01, -0.02])),
            (true, -1.0, aim(0.03, [0.03, -0.02], [0.05, 0.02, -0.01])),
            (false, -1.0, aim(0.01, [0.02, 0.04], [0.05, 0.00, 0.03])),
            (false, 1.0, aim(0.04, [0.02, 0.05], [0.05, -0.01, 0.02])),
        ];
        let mut slow = 0.0;
        for (n, (left_a, weight_a, a)) in aims.iter().enumerate() {
            for (m, (left_b, weight_b, b)) in aims.iter().enumerate() {
                let own = if n == m {
                    (a.reading_u95_percent() / COVERAGE_FACTOR_95).powi(2)
                } else {
                    0.0
                };
                slow += weight_a * weight_b * (own + a.covariance_percent2(b, left_a == left_b));
            }
        }
        let means: Vec<Mean> = aims.iter().map(|(_, _, aim)| Mean::of(&[aim])).collect();
        let fast = variance_percent2(
            &[(1.0, &means[0]), (-1.0, &means[1])],
            &[(-1.0, &means[2]), (1.0, &means[3])],
        );
        assert!((fast - slow).abs() < 1e-15, "{fast} and {slow}");
    }

    /// By hand: each travel of two photos of 0.01 % (one standard deviation 0.0051), so that 0.7 times 1.2 less the other's is
    /// known to ± 0.023 % (2.576 standard deviations of 0.0088).
    #[test]
    fn a_travel_that_is_surely_short_of_the_other_lamp_s_is_named() {
        let mean = |percent: f64| Mean::of(&[&Aim::made_with(percent, 0.01 / COVERAGE_FACTOR_95, Common::default())]);
        let of = |left: f64, right: f64| {
            let (zero, last) = ((mean(1.0), mean(1.2)), (mean(1.0 + left), mean(1.2 + right)));
            short((&zero.0, &zero.1), (&last.0, &last.1), ["0", "3"]).map(|short| short.lamp)
        };
        assert_eq!(of(0.6, 1.2), Some(Side::Left));
        assert_eq!(of(-1.2, -0.4), Some(Side::Right));
        assert_eq!(of(0.81, 1.2), Some(Side::Left));
        for alike in [(1.2, 1.2), (0.9, 1.2), (0.83, 1.2), (1.2, 0.85)] {
            assert_eq!(of(alike.0, alike.1), None, "{alike:?}");
        }
        // A beam that goes the other way is a fault of its own.
        assert_eq!(of(-0.5, 1.2), None);
        let words = short((&mean(1.0), &mean(1.2)), (&mean(1.6), &mean(2.4)), ["0", "3"])
            .unwrap()
            .to_string();
        assert_eq!(
            words,
            "the left beam moves by 0.60 % only from 0 to 3, where the other lamp's moves by 1.20 %"
        );
    }
}
