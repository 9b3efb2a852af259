//! The damping of Levenberg–Marquardt (D. W. Marquardt, J. SIAM 11 (1963) 431): up until a step helps, down after each that
//! does.

/// How the damping goes up and down, and when to give up.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Marquardt {
    /// Damping to begin with, as a share of the normal matrix' diagonal.
    pub start: f64,
    /// Factor on it after a step that helped, below 1.
    pub ease: f64,
    /// Factor on it after a step that did not, above 1.
    pub stiffen: f64,
    /// It stays at and above this.
    pub least: f64,
    /// Above this no step helps any more: the minimum, as far as the numbers go.
    pub most: f64,
    /// Largest number of steps that help.
    pub most_steps: usize,
    /// Largest number of steps that are tried.
    pub most_attempts: usize,
}

/// What came of one step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Attempt {
    /// The cost would have risen; the step was not taken.
    Worse,
    /// The step was taken.
    Better,
    /// The step was taken, and was too small for another to matter.
    Settled,
}

/// How a minimisation ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ending {
    /// The steps became small.
    Settled,
    /// No step helps any more.
    NoStepHelps,
    /// There was still something to gain when the steps ran out.
    StepsRanOut,
}

impl Marquardt {
    /// Takes steps to the minimum. `step` tries one with the damping given, takes it where it helps, and tells which; `None`
    /// from it ends all with `None`.
    pub fn minimise(&self, mut step: impl FnMut(f64) -> Option<Attempt>) -> Option<Ending> {
        let mut damping = self.start;
        let mut steps = 0;
        for _ in 0..self.most_attempts {
            if steps == self.most_steps {
                break;
            }
            match step(damping)? {
                Attempt::Settled => return Some(Ending::Settled),
                Attempt::Better => {
                    damping = (damping * self.ease).max(self.least);
                    steps += 1;
                }
                Attempt::Worse => {
                    damping *= self.stiffen;
                    if damping > self.most {
                        return Some(Ending::NoStepHelps);
                    }
                }
            }
        }
        Some(Ending::StepsRanOut)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Marquardt = Marquardt {
        start: 1e-3,
        ease: 0.1,
        stiffen: 10.0,
        least: 1e-6,
        most: 1e3,
        most_steps: 50,
        most_attempts: 200,
    };

    /// One damped Newton step on x − ln x, whose minimum is at 1; beyond 0 it is not defined.
    fn newton(x: &mut f64, damping: f64) -> Attempt {
        let cost = |x: f64| if x > 0.0 { x - x.ln() } else { f64::INFINITY };
        let (gradient, curvature) = (1.0 - 1.0 / *x, 1.0 / (*x * *x));
        let trial = *x - gradient / (curvature * (1.0 + damping));
        if cost(trial) > cost(*x) {
            return Attempt::Worse;
        }
        let fall = cost(*x) - cost(trial);
        *x = trial;
        if fall < 1e-15 {
            Attempt::Settled
        } else {
            Attempt::Better
        }
    }

    #[test]
    fn a_start_from_which_plain_newton_runs_away_is_brought_back() {
        // At 3 Newton's own step goes to −3, where there is nothing.
        let mut x = 3.0;
        let mut worse = 0;
        let end = PLAIN.minimise(|damping| {
            let step = newton(&mut x, damping);
            worse += usize::from(step == Attempt::Worse);
            Some(step)
        });
        assert_eq!(end, Some(Ending::Settled));
        assert!(
            worse > 0 && (x - 1.0).abs() < 1e-6,
            "{x} after {worse} steps that did not help"
        );
    }

    #[test]
    fn it_ends_where_nothing_helps_where_steps_run_out_and_where_none_can_be_made() {
        let mut dampings = Vec::new();
        let end = PLAIN.minimise(|damping| {
            dampings.push(damping);
            Some(Attempt::Worse)
        });
        assert_eq!((end, dampings.len()), (Some(Ending::NoStepHelps), 7));
        let mut least = f64::INFINITY;
        let end = PLAIN.minimise(|damping| {
            least = least.min(damping);
            Some(Attempt::Better)
        });
        assert_eq!((end, least), (Some(Ending::StepsRanOut), PLAIN.least));
        assert_eq!(PLAIN.minimise(|_| None), None);
    }
}
