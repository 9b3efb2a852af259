//! The least squares of edges read together: what is unknown, one solution for given scales, its likelihood and covariance.
//!
//! The edges' own parameters are taken out of the normal equations photo by photo (Schur's complement), since the photos
//! share only the wall, the beam's misfit and the shape about which their edges lie.

use super::super::edge::{BLACK_SD, EDGE_PARAMETERS, Form, Model};
use super::{BEAM_NODE_DEG, BEAM_REACH_DEG, WALL_NODE_DEG};
use crate::fit::{Attempt, Ending, Marquardt, cholesky};
use nalgebra::{DMatrix, DVector, SMatrix, SVector};

/// A residual counts ever less from about so many standard deviations on (our choice, no source).
const OFF_SDS: f64 = 3.0;
/// Common practice, no source.
const DAMPING: Marquardt = Marquardt {
    start: 1e-4,
    ease: 0.1,
    stiffen: 10.0,
    least: 1e-9,
    most: 1e6,
    most_steps: 60,
    most_attempts: 90,
};
/// Damping that is as good as none (common practice, no source).
const NEXT_TO_NONE: f64 = 1e-6;
/// What a step lowers minus twice the log likelihood by, for another to matter: a thirtieth of a standard deviation.
const LEAST_FALL: f64 = 1e-3;

/// What gives an edge its shape, by its place among the edge's parameters: the mean and standard deviation that it has over
/// lamps (as for a photo alone), and the standard deviation over photos of one lamp, whose beam is turned and not altered (our
/// choice, no source).
const SHAPE: [(usize, f64, f64, f64); 5] = [
    (1, -1.714_798_428, 0.8, 0.03),
    (2, 0.5, 1.0, 0.05),
    (4, 0.0, 1.0, 0.05),
    (5, 0.0, 0.5, 0.05),
    (7, 0.0, 1.0, 0.05),
];

type Own = SVector<f64, EDGE_PARAMETERS>;
type OwnMatrix = SMatrix<f64, EDGE_PARAMETERS, EDGE_PARAMETERS>;

/// ln of light at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    pub beta_deg: f64,
    pub ln_light: f64,
}

/// How large and how far-reaching what is random is: standard deviations of ln light, and degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scales {
    wall_sd: f64,
    wall_reach_deg: f64,
    noise_sd: f64,
    beam_sd: f64,
    /// How many steps each of them, as [`Scales::moved`] counts them, lies above where the search began.
    steps: [i32; Self::COUNT],
}

impl Scales {
    pub const COUNT: usize = 4;
    /// To begin the search with (our choice, no source).
    pub const START: Self = Self {
        wall_sd: 0.02,
        wall_reach_deg: 0.1,
        noise_sd: 0.01,
        beam_sd: 0.01,
        steps: [0; Self::COUNT],
    };

    /// Whether these lie as many steps from where the search began.
    pub fn is(&self, other: &Self) -> bool {
        self.steps == other.steps
    }

    /// With one of them a step larger or smaller; `None` beyond what walls and photos have.
    pub fn moved(mut self, which: usize, up: bool) -> Option<Self> {
        let (scale, factor, least, most) = match which {
            0 => (&mut self.wall_sd, 1.6, 1e-4, 1.0),
            1 => (&mut self.noise_sd, 1.6, 3e-4, 0.2),
            2 => (&mut self.wall_reach_deg, 1.7, 0.02, 1.0),
            _ => (&mut self.beam_sd, 1.8, 5e-4, 0.1),
        };
        *scale *= if up { factor } else { 1.0 / factor };
        self.steps[which] += if up { 1 } else { -1 };
        (least < *scale && *scale < most).then_some(self)
    }
}

/// Evenly spaced nodes of a random function; between them it runs straight.
#[derive(Debug, Clone, Copy)]
struct Nodes {
    from_deg: f64,
    spacing_deg: f64,
    count: usize,
}

impl Nodes {
    fn over(from_deg: f64, to_deg: f64, spacing_deg: f64) -> Self {
        Self {
            from_deg,
            spacing_deg,
            count: ((to_deg - from_deg) / spacing_deg).ceil() as usize + 2,
        }
    }

    /// The node below a place and the share of the way to the next; beyond the ends, the end's.
    fn at(self, deg: f64) -> (usize, f64) {
        let steps = ((deg - self.from_deg) / self.spacing_deg).clamp(0.0, (self.count - 1) as f64);
        let node = (steps.floor() as usize).min(self.count - 2);
        (node, steps - node as f64)
    }
}

/// What is unknown, with the photos that tell it. Shared unknowns in their order: the mean shape, the wall, the beam's misfit.
pub(super) struct Unknowns<'a> {
    photos: Vec<&'a [Point]>,
    wall: Nodes,
    beam: Nodes,
}

/// Values of all unknowns.
#[derive(Debug, Clone)]
pub(super) struct State {
    form: Form,
    edges: Vec<[f64; EDGE_PARAMETERS]>,
    shared: DVector<f64>,
}

/// A solution for given scales.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub state: State,
    pub scales: Scales,
    /// Minus twice the log of the marginal likelihood, but for a constant.
    pub misfit: f64,
}

/// The normal equations at a state: one block a photo, what ties it to the shared unknowns, and these among themselves.
struct Normal {
    own: Vec<(OwnMatrix, Own)>,
    ties: Vec<DMatrix<f64>>,
    shared: DMatrix<f64>,
    shared_gradient: DVector<f64>,
    /// Minus twice the log of likelihood and priors, but for a constant.
    cost: f64,
}

/// Normal equations with the photos' own parameters taken out.
struct Reduced {
    /// Of each photo: its block's inverse, and that times its ties.
    photos: Vec<(OwnMatrix, DMatrix<f64>)>,
    shared: nalgebra::Cholesky<f64, nalgebra::Dyn>,
    gradient: DVector<f64>,
    ln_determinant: f64,
}

/// A step of the least squares.
struct Step {
    to: State,
    /// By how much it lowers the cost, were the equations all there is.
    fall: f64,
    ln_determinant: f64,
}

impl State {
    /// The photos' own edges, an even wall, no misfit.
    pub fn start(unknowns: &Unknowns<'_>, form: Form, edges: &[[f64; EDGE_PARAMETERS]]) -> Self {
        let mut shared = DVector::zeros(unknowns.shared_count());
        for (n, (parameter, ..)) in SHAPE.iter().enumerate() {
            shared[n] = edges.iter().map(|edge| edge[*parameter]).sum::<f64>() / edges.len().max(1) as f64;
        }
        Self {
            form,
            edges: edges.to_vec(),
            shared,
        }
    }
}

impl<'a> Unknowns<'a> {
    /// `None` where a photo has no points.
    pub fn new(photos: Vec<&'a [Point]>) -> Option<Self> {
        let all = || {
            photos
                .iter()
                .flat_map(|points| points.iter().map(|point| point.beta_deg))
        };
        let (low, high) = all().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), b| (l.min(b), h.max(b)));
        if photos.iter().any(|points| points.is_empty()) || !(high - low).is_finite() {
            return None;
        }
        // An edge lies within the points that it was fitted to, so that none lies further from it than this.
        let reach_deg = photos
            .iter()
            .filter_map(|points| Some(points.last()?.beta_deg - points.first()?.beta_deg))
            .fold(0.0, f64::max);
        Some(Self {
            wall: Nodes::over(low, high, WALL_NODE_DEG),
            beam: Nodes::over(-0.6 * reach_deg, 0.6 * reach_deg, BEAM_NODE_DEG),
            photos,
        })
    }

    fn wall_from(&self) -> usize {
        SHAPE.len()
    }

    fn beam_from(&self) -> usize {
        SHAPE.len() + self.wall.count
    }

    fn shared_count(&self) -> usize {
        SHAPE.len() + self.wall.count + self.beam.count
    }

    /// Minimises from a state, for given scales. `None` where that does not settle, or has no solution.
    pub fn solve(&self, from: &State, scales: Scales) -> Option<Solved> {
        let mut state = from.clone();
        let mut normal = self.normal(&state, scales);
        let mut misfit = None;
        let end = DAMPING.minimise(|damping| {
            let Some(step) = normal.step(&state, damping) else {
                return Some(Attempt::Worse);
            };
            let trial = step.to;
            if damping <= NEXT_TO_NONE && step.fall < LEAST_FALL {
                // So near to the minimum all is as the equations say, which therefore need not be set up again.
                misfit = Some(normal.cost - step.fall + step.ln_determinant);
                state = trial;
                return Some(Attempt::Settled);
            }
            let at_trial = self.normal(&trial, scales);
            let fall = normal.cost - at_trial.cost;
            if fall.is_nan() || fall < 0.0 {
                return Some(Attempt::Worse);
            }
            (state, normal) = (trial, at_trial);
            Some(if fall < LEAST_FALL {
                Attempt::Settled
            } else {
                Attempt::Better
            })
        })?;
        let misfit = match misfit {
            Some(misfit) => misfit,
            None => normal.cost + normal.reduced(0.0)?.ln_determinant,
        };
        (end != Ending::StepsRanOut && misfit.is_finite()).then_some(Solved { state, scales, misfit })
    }

    /// Gauss and Newton's normal equations, their gradient downhill.
    fn normal(&self, state: &State, scales: Scales) -> Normal {
        let count = self.shared_count();
        let mut normal = Normal {
            own: Vec::with_capacity(self.photos.len()),
            ties: Vec::with_capacity(self.photos.len()),
            shared: DMatrix::zeros(count, count),
            shared_gradient: DVector::zeros(count),
            cost: 0.0,
        };
        for (points, edge) in self.photos.iter().zip(&state.edges) {
            self.add_photo(&mut normal, state, points, edge, scales);
        }
        for (n, (_, mean, sd, _)) in SHAPE.iter().enumerate() {
            normal.shared[(n, n)] += sd.powi(-2);
            normal.shared_gradient[n] += (mean - state.shared[n]) / sd.powi(2);
            normal.cost += ((mean - state.shared[n]) / sd).powi(2);
        }
        let wall = (self.wall_from(), self.wall, scales.wall_sd, scales.wall_reach_deg);
        let beam = (self.beam_from(), self.beam, scales.beam_sd, BEAM_REACH_DEG);
        for (from, nodes, sd, reach_deg) in [wall, beam] {
            normal.add_random(from, nodes, sd, reach_deg, &state.shared);
        }
        normal
    }

    fn add_photo(
        &self,
        normal: &mut Normal,
        state: &State,
        points: &[Point],
        edge: &[f64; EDGE_PARAMETERS],
        scales: Scales,
    ) {
        let (mut own, mut gradient) = (OwnMatrix::zeros(), Own::zeros());
        let mut ties = DMatrix::zeros(EDGE_PARAMETERS, self.shared_count());
        let curve = Model::on_wall(state.form, edge);
        for point in points {
            let sd = scales.noise_sd.hypot(BLACK_SD / point.ln_light.exp());
            let (wall, wall_share) = self.wall.at(point.beta_deg);
            let (beam, beam_share) = self.beam.at(point.beta_deg - edge[0]);
            let (wall, beam) = (self.wall_from() + wall, self.beam_from() + beam);
            let (model, slopes) = curve.ln_light_and_slopes(point.beta_deg);
            let mut slopes = Own::from(slopes);
            let shared = [
                (wall, 1.0 - wall_share),
                (wall + 1, wall_share),
                (beam, 1.0 - beam_share),
                (beam + 1, beam_share),
            ];
            slopes[0] -= (state.shared[beam + 1] - state.shared[beam]) / self.beam.spacing_deg;
            let random: f64 = shared.iter().map(|(at, share)| share * state.shared[*at]).sum();
            let residual = point.ln_light - model - random;
            let off = (residual / (sd * OFF_SDS)).powi(2);
            let weight = 1.0 / (sd * sd * (1.0 + off));
            own += weight * slopes * slopes.transpose();
            gradient += weight * residual * slopes;
            for (at, share) in shared {
                for n in 0..EDGE_PARAMETERS {
                    ties[(n, at)] += weight * slopes[n] * share;
                }
                normal.shared_gradient[at] += weight * residual * share;
                for (other, other_share) in shared {
                    normal.shared[(at, other)] += weight * share * other_share;
                }
            }
            normal.cost += OFF_SDS * OFF_SDS * off.ln_1p() + 2.0 * sd.ln();
        }
        for (n, (parameter, _, _, sd)) in SHAPE.iter().enumerate() {
            let (tie, apart) = (sd.powi(-2), state.shared[n] - edge[*parameter]);
            own[(*parameter, *parameter)] += tie;
            gradient[*parameter] += tie * apart;
            ties[(*parameter, n)] -= tie;
            normal.shared[(n, n)] += tie;
            normal.shared_gradient[n] -= tie * apart;
            normal.cost += tie * apart * apart;
        }
        normal.own.push((own, gradient));
        normal.ties.push(ties);
    }

    /// The inflections of a solution, degrees, with their covariance, degrees squared.
    pub fn inflections(&self, solved: &Solved) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let state = &solved.state;
        let reduced = self.normal(state, solved.scales).reduced(0.0)?;
        let mut places = Vec::with_capacity(state.edges.len());
        let mut rows = Vec::with_capacity(state.edges.len());
        let mut alone = Vec::with_capacity(state.edges.len());
        for (edge, (inverse, tied)) in state.edges.iter().zip(&reduced.photos) {
            let slopes = inflection_slopes(state.form, edge)?;
            places.push(Model::on_wall(state.form, edge).inflection()?);
            alone.push((slopes.transpose() * inverse * slopes)[(0, 0)]);
            rows.push(DVector::from_iterator(
                self.shared_count(),
                (slopes.transpose() * tied).iter().copied(),
            ));
        }
        let rows = DMatrix::from_columns(&rows);
        let by_shared = rows.transpose() * reduced.shared.solve(&rows);
        let covariance = by_shared + DMatrix::from_diagonal(&DVector::from_vec(alone));
        Some((DVector::from_vec(places), covariance))
    }
}

impl Normal {
    /// A random function of mean 0 whose neighbours hang together by exp(−distance/reach): each node is its neighbour's share
    /// and something new (Ornstein and Uhlenbeck's process at even steps).
    fn add_random(&mut self, from: usize, nodes: Nodes, sd: f64, reach_deg: f64, values: &DVector<f64>) {
        let kept = (-nodes.spacing_deg / reach_deg).exp();
        let first = sd.powi(-2);
        self.shared[(from, from)] += first;
        self.shared_gradient[from] -= first * values[from];
        self.cost += first * values[from].powi(2) + 2.0 * sd.ln();
        let new = first / (1.0 - kept * kept);
        for below in from..from + nodes.count - 1 {
            let above = below + 1;
            let apart = values[above] - kept * values[below];
            self.shared[(above, above)] += new;
            self.shared[(below, below)] += new * kept * kept;
            self.shared[(below, above)] -= new * kept;
            self.shared[(above, below)] -= new * kept;
            self.shared_gradient[above] -= new * apart;
            self.shared_gradient[below] += new * kept * apart;
            self.cost += new * apart * apart - new.ln();
        }
    }

    /// A step with the diagonal stiffened; `None` where the equations have no solution.
    fn step(&self, from: &State, damping: f64) -> Option<Step> {
        let reduced = self.reduced(damping)?;
        let shared = reduced.shared.solve(&reduced.gradient);
        let mut to = from.clone();
        let mut fall = self.shared_gradient.dot(&shared);
        let photos = self.own.iter().zip(&reduced.photos).zip(&mut to.edges);
        for (((_, gradient), (inverse, tied)), edge) in photos {
            let step = inverse * gradient - tied * &shared;
            fall += (gradient.transpose() * step)[(0, 0)];
            for (value, by) in edge.iter_mut().zip(step.iter()) {
                *value += by;
            }
        }
        to.shared += shared;
        Some(Step {
            to,
            fall,
            ln_determinant: reduced.ln_determinant,
        })
    }

    /// The ties of all photos' parameters, a column each.
    fn all_ties(&self) -> DMatrix<f64> {
        let columns: Vec<_> = self
            .ties
            .iter()
            .flat_map(|ties| ties.row_iter().map(|row| row.transpose()))
            .collect();
        DMatrix::from_columns(&columns)
    }

    /// The photos' own parameters taken out, with each diagonal stiffened by a share `damping`.
    fn reduced(&self, damping: f64) -> Option<Reduced> {
        let mut shared = self.shared.clone();
        for n in 0..shared.nrows() {
            shared[(n, n)] *= 1.0 + damping;
        }
        let mut gradient = self.shared_gradient.clone();
        let mut photos = Vec::with_capacity(self.own.len());
        let mut all_tied = DMatrix::zeros(self.own.len() * EDGE_PARAMETERS, shared.nrows());
        let mut ln_determinant = 0.0;
        for ((own, own_gradient), ties) in self.own.iter().zip(&self.ties) {
            let mut own = *own;
            for n in 0..EDGE_PARAMETERS {
                own[(n, n)] *= 1.0 + damping;
            }
            let factor = own.cholesky()?;
            ln_determinant += 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
            let inverse = factor.inverse();
            let tied: DMatrix<f64> = DMatrix::from_fn(EDGE_PARAMETERS, ties.ncols(), |r, c| {
                (0..EDGE_PARAMETERS).map(|k| inverse[(r, k)] * ties[(k, c)]).sum()
            });
            all_tied
                .rows_mut(photos.len() * EDGE_PARAMETERS, EDGE_PARAMETERS)
                .copy_from(&tied);
            let own_gradient = DVector::from_column_slice(own_gradient.as_slice());
            gradient.gemv_tr(-1.0, &tied, &own_gradient, 1.0);
            photos.push((inverse, tied));
        }
        less_product(&mut shared, &self.all_ties(), &all_tied);
        let shared = cholesky(shared)?;
        ln_determinant += 2.0 * shared.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        Some(Reduced {
            photos,
            shared,
            gradient,
            ln_determinant,
        })
    }
}

/// Takes the product of two matrices, which is symmetric, from another, of which the lower half counts: what all photos take from the
/// shared unknowns, where the time goes. Some columns at a time, and of these what lies from their diagonal down.
fn less_product(from: &mut DMatrix<f64>, left: &DMatrix<f64>, right: &DMatrix<f64>) {
    const COLUMNS: usize = 64;
    let count = from.nrows();
    for first in (0..count).step_by(COLUMNS) {
        let (columns, below) = (COLUMNS.min(count - first), count - first);
        let mut part = from.view_mut((first, first), (below, columns));
        part.gemm(-1.0, &left.rows(first, below), &right.columns(first, columns), 1.0);
    }
}

/// What each parameter of an edge does to its inflection, degrees.
fn inflection_slopes(form: Form, edge: &[f64; EDGE_PARAMETERS]) -> Option<Own> {
    const STEP: f64 = 1e-3;
    let mut slopes = Own::zeros();
    for n in 0..EDGE_PARAMETERS {
        let at = |by: f64| {
            let mut moved = *edge;
            moved[n] += by;
            Model::on_wall(form, &moved).inflection()
        };
        slopes[n] = (at(STEP)? - at(-STEP)?) / (2.0 * STEP);
    }
    Some(slopes)
}

#[cfg(test)]
mod tests {
    use super::super::super::edge::Fade;
    use super::*;

    const NORMAL: Form = Form {
        fade: Fade::Normal,
        face: None,
    };

    /// Reference implementation: the whole product at once.
    #[test]
    fn some_columns_at_a_time_give_the_lower_half_of_the_product() {
        for count in [0, 1, 63, 64, 65, 150] {
            let left = DMatrix::from_fn(count, 40, |r, c| ((3 * r + 5 * c) as f64).sin());
            let scaled = DMatrix::from_fn(40, count, |r, c| left[(c, r)] * (1.0 + r as f64));
            let start = DMatrix::from_fn(count, count, |r, c| (r.max(c) + 7 * r.min(c)) as f64);
            let whole = &start - &left * &scaled;
            let mut quick = start;
            less_product(&mut quick, &left, &scaled);
            for (r, c) in (0..count).flat_map(|r| (0..=r).map(move |c| (r, c))) {
                assert!((quick[(r, c)] - whole[(r, c)]).abs() < 1e-9, "{count}: {r}, {c}");
            }
        }
    }

    /// Reference implementation: the whole normal matrix, inverted at once.
    #[test]
    fn taking_the_photos_out_changes_nothing() {
        let edge = [-0.4, -1.7, 0.4, -0.5, 0.1, 0.02, -4.0, -0.1];
        let points = |from: f64| -> Vec<Point> {
            (0..50)
                .map(|n| from + 0.04 * f64::from(n))
                .map(|beta_deg| Point {
                    beta_deg,
                    ln_light: Model::on_wall(NORMAL, &edge).ln_light(beta_deg) + 0.01 * (7.0 * beta_deg).sin(),
                })
                .collect()
        };
        let (first, second) = (points(-1.4), points(-1.3));
        let unknowns = Unknowns::new(vec![&first, &second]).unwrap();
        let mut lower = edge;
        lower[0] -= 0.01;
        let state = State::start(&unknowns, NORMAL, &[edge, lower]);
        let normal = unknowns.normal(&state, Scales::START);
        let reduced = normal.reduced(0.0).unwrap();

        let (own, shared) = (2 * EDGE_PARAMETERS, unknowns.shared_count());
        let mut whole = DMatrix::zeros(own + shared, own + shared);
        let mut gradient = DVector::zeros(own + shared);
        for (n, ((block, downhill), ties)) in normal.own.iter().zip(&normal.ties).enumerate() {
            let at = n * EDGE_PARAMETERS;
            for r in 0..EDGE_PARAMETERS {
                gradient[at + r] = downhill[r];
                for c in 0..EDGE_PARAMETERS {
                    whole[(at + r, at + c)] = block[(r, c)];
                }
                for c in 0..shared {
                    whole[(at + r, own + c)] = ties[(r, c)];
                    whole[(own + c, at + r)] = ties[(r, c)];
                }
            }
        }
        whole.view_mut((own, own), (shared, shared)).copy_from(&normal.shared);
        gradient.rows_mut(own, shared).copy_from(&normal.shared_gradient);
        let inverse = whole.clone().try_inverse().unwrap();
        let step = &inverse * &gradient;
        let fast = normal.step(&state, 0.0).unwrap();
        assert!((fast.fall / gradient.dot(&step) - 1.0).abs() < 1e-6);
        let fast = fast.to;
        for n in 0..EDGE_PARAMETERS {
            assert!((fast.edges[0][n] - edge[n] - step[n]).abs() < 1e-6 * (1.0 + step[n].abs()));
            assert!((fast.edges[1][n] - lower[n] - step[EDGE_PARAMETERS + n]).abs() < 1e-6 * (1.0 + step[n].abs()));
        }
        let slow: f64 = whole.symmetric_eigenvalues().iter().map(|v| v.ln()).sum();
        assert!((reduced.ln_determinant / slow - 1.0).abs() < 1e-9);

        let solved = Solved {
            state: state.clone(),
            scales: Scales::START,
            misfit: 0.0,
        };
        let (_, covariance) = unknowns.inflections(&solved).unwrap();
        let mut slopes = DMatrix::zeros(own + shared, 2);
        for (n, edge) in state.edges.iter().enumerate() {
            let of_edge = inflection_slopes(NORMAL, edge).unwrap();
            slopes
                .view_mut((n * EDGE_PARAMETERS, n), (EDGE_PARAMETERS, 1))
                .copy_from(&of_edge);
        }
        let expected = slopes.transpose() * inverse * slopes;
        assert!(
            (&covariance - &expected).abs().max() < 1e-6 * expected.abs().max(),
            "{covariance} {expected}"
        );
    }
}
