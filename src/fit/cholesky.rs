//! Cholesky's factor of a large matrix, some columns at a time, so that most of the work is one product of matrices a block, which
//! the processor does many times as fast as one column after the other.

use nalgebra::{Cholesky, DMatrix, Dyn};

/// So many columns at a time.
const BLOCK: usize = 16;

/// The factor of a symmetric matrix, of which the lower half counts; `None` where it is not positive definite.
pub(crate) fn cholesky(mut matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    let count = matrix.nrows();
    for from in (0..count).step_by(BLOCK) {
        let to = (from + BLOCK).min(count);
        // What the columns before have in common with these.
        if from > 0 {
            let (done, mut panel) = matrix.columns_range_pair_mut(..from, from..to);
            let beside = done.rows_range(from..to).transpose();
            panel
                .rows_range_mut(from..)
                .gemm(-1.0, &done.rows_range(from..), &beside, 1.0);
        }
        for column in from..to {
            let (before, rest) = matrix.as_mut_slice().split_at_mut(column * count);
            let here = rest.get_mut(column..count)?;
            for before in before.chunks_exact(count).skip(from) {
                let before = &before[column..];
                let by = before[0];
                for (here, before) in here.iter_mut().zip(before) {
                    *here -= by * before;
                }
            }
            let root = here[0].sqrt();
            if root.is_nan() || root <= 0.0 {
                return None;
            }
            here[0] = root;
            for value in &mut here[1..] {
                *value /= root;
            }
        }
    }
    Some(Cholesky::pack_dirty(matrix))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Against one column after the other, as the library does it.
    #[test]
    fn blocks_give_the_factor_that_columns_give() {
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(8);
        for count in [1, 2, 7, BLOCK - 1, BLOCK, BLOCK + 1, 2 * BLOCK, 131] {
            let half = DMatrix::from_fn(count, count + 3, |_, _| rng.random_range(-1.0..1.0));
            let mut matrix = &half * half.transpose();
            let plain = matrix.clone().cholesky().unwrap();
            // The upper half is of no use.
            matrix.fill_upper_triangle(f64::NAN, 1);
            let quick = cholesky(matrix.clone()).unwrap();
            assert!((quick.l() - plain.l()).norm() < 1e-10 * plain.l().norm(), "{count}");
            let right = DMatrix::from_element(count, 1, 1.0);
            assert!((quick.solve(&right) - plain.solve(&right)).norm() < 1e-7 * plain.solve(&right).norm());
            matrix[(count - 1, count - 1)] = -1.0;
            assert!(cholesky(matrix).is_none(), "{count}");
        }
        assert!(cholesky(DMatrix::from_element(2, 2, f64::NAN)).is_none());
    }
}
