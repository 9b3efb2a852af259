//! stub to be replaced in the next edit
use super::Interval;
use crate::record::{Side, Stage};
use serde::{Deserialize, Serialize};
/// x
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeakDown {
    /// x
    pub lamp: Side,
    /// x
    pub stage: Option<Stage>,
    /// x
    pub time_constant_s: Option<Interval>,
    /// x
    pub start_rate_mbar_per_min: Option<Interval>,
}
