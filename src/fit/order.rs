//! Order statistics: the middle of some values, and other ranks.

/// The median: the middle value, or the mean of the middle two. `None` of no values; reorders them.
#[must_use]
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    let high = median_high(values)?;
    let below = &values[..values.len() / 2];
    let low = below.iter().copied().max_by(f64::total_cmp);
    Some(match low {
        Some(low) if values.len().is_multiple_of(2) => 0.5 * (low + high),
        _ => high,
    })
}

/// The middle value, or the upper one of the middle two: always one of the values. `None` of no values; reorders them.
#[must_use]
pub(crate) fn median_high(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// The value that stands at a place, from 0, when all are sorted; the largest for a place beyond them. `None` of no values;
/// reorders them.
#[must_use]
pub(crate) fn ranked(values: &mut [f32], place: usize) -> Option<f32> {
    let last = values.len().checked_sub(1)?;
    Some(*values.select_nth_unstable_by(place.min(last), f32::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_of_odd_and_even_numbers() {
        assert_eq!(median(&mut [5.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [5.0, 1.0, 2.0, 4.0]), Some(3.0));
        assert_eq!(median_high(&mut [5.0, 1.0, 2.0, 4.0]), Some(4.0));
        assert_eq!((median(&mut []), median_high(&mut [])), (None, None));
    }

    #[test]
    fn ranks_are_those_of_the_sorted_values() {
        let shuffled: Vec<f32> = (0..101_u16).map(|n| f32::from(n * 7 % 101)).collect();
        for place in [0, 1, 50, 99, 100] {
            assert_eq!(ranked(&mut shuffled.clone(), place), Some(place as f32));
        }
        assert_eq!(ranked(&mut shuffled.clone(), 1000), Some(100.0));
        assert_eq!(ranked(&mut [], 0), None);
    }
}
