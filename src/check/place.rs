//! Where the cut-off lies in a made photo, and what can be added there: other light, and things in the way.

use super::picture::Light;
use crate::render::{Pinhole, Scene};

/// Where the cut-off lies on the wall and in the picture.
pub(super) struct Place {
    pinhole: Pinhole,
    centre_x_mm: f64,
    edge_y_mm: f64,
    /// One degree as seen from the lamp, on the wall.
    degree_mm: f64,
    /// Direction of the flat side along x, +1 or −1.
    pub flat: f64,
}

impl Place {
    /// The place of the first lamp's cut-off in the first photo; `None` where the scene cannot be.
    pub fn of(scene: &Scene) -> Option<Self> {
        let lamp = scene.lamp.first()?;
        Some(Self {
            pinhole: scene.pinhole(0).ok()?,
            centre_x_mm: lamp.centre_x_mm,
            edge_y_mm: lamp.centre_height_mm - lamp.inclination_percent / 100.0 * lamp.distance_mm,
            degree_mm: lamp.distance_mm * 1.0_f64.to_radians().tan(),
            flat: lamp.traffic.flat_side_sign(),
        })
    }

    /// The point of the wall frame, mm, at angles from the lamp's V-V towards the flat side and above the edge.
    pub fn wall_mm(&self, from_vv_deg: f64, up_deg: f64) -> [f64; 3] {
        [
            self.centre_x_mm + self.flat * from_vv_deg * self.degree_mm,
            self.edge_y_mm + up_deg * self.degree_mm,
            0.0,
        ]
    }

    /// Angles of a picture point as in [`Place::wall_mm`]; far away where it does not see the wall.
    fn angles_deg(&self, x_px: f64, y_px: f64) -> [f64; 2] {
        self.pinhole.wall_point_mm(x_px, y_px).map_or([1e6; 2], |[x_mm, y_mm]| {
            [
                self.flat * (x_mm - self.centre_x_mm) / self.degree_mm,
                (y_mm - self.edge_y_mm) / self.degree_mm,
            ]
        })
    }

    /// Light of the bright side, half a degree below the edge on the reading scan.
    fn bright_level(&self, light: &Light) -> f64 {
        self.pinhole
            .project(self.wall_mm(2.5, -0.5))
            .map_or(0.0, |at_px| f64::from(light.level(at_px, 6.0)))
    }

    /// A white strip near the top of the picture, its glare around it, and light from it down the wall.
    ///
    /// `draws`: six numbers from 0 to 1, by which sizes and strengths are chosen; so for the others.
    pub fn bright_light(&self, light: &mut Light, draws: [f64; 6]) {
        let (width_px, height_px) = (light.width_px as f64, light.height_px as f64);
        let level = self.bright_level(light);
        let middle_px = (0.2 + 0.6 * draws[0]) * width_px;
        let half_px = [(0.04 + 0.1 * draws[1]) * width_px, 0.03 * height_px];
        let glare = level * 0.4 * draws[2];
        let reach_px = (0.1 + 0.2 * draws[3]) * width_px;
        let wash = level * 0.2 * draws[4];
        let y0_px = 0.05 * height_px;
        light.each(|x_px, y_px, rgb| {
            let (dx_px, dy_px) = ((x_px - middle_px).abs(), (y_px - y0_px).abs());
            let away_px = (dx_px - half_px[0]).max(0.0).hypot((dy_px - half_px[1]).max(0.0));
            let added = glare * (-away_px / reach_px).exp() + wash / (1.0 + (y_px / (0.5 * height_px)).powi(2));
            let lamp = if away_px == 0.0 { 1.5 } else { 0.0 };
            *rgb = rgb.map(|value| value + (added + lamp) as f32);
        });
    }

    /// A second light on the wall whose soft end lies up to a degree from the cut-off, on the side that `sign` says.
    pub fn soft_light(&self, light: &mut Light, draws: [f64; 6], sign: f64) {
        let added = self.bright_level(light) * (0.1 + 0.6 * draws[0]);
        let offset_deg = 2.0 * draws[1] - 1.0;
        let soft_deg = 0.1 + 0.4 * draws[2];
        let slope = (10.0 * (draws[3] - 0.5)).to_radians().tan();
        let wide_deg = 1.5 + 2.5 * draws[4];
        let middle_deg = 4.0 * draws[5];
        light.each(|x_px, y_px, rgb| {
            let [across_deg, up_deg] = self.angles_deg(x_px, y_px);
            let beyond = sign * (up_deg - offset_deg - slope * (across_deg - 2.5)) / soft_deg;
            let spread = (-0.5 * ((across_deg - middle_deg) / wide_deg).powi(2)).exp();
            // A logistic curve: its end is as soft as a blurred one, and cheap.
            let more = (added * spread / (1.0 + (-1.7 * beyond).exp())) as f32;
            *rgb = rgb.map(|value| value + more);
        });
    }

    /// A dark box or pillar before the flat side, from the floor to somewhere near or above the cut-off.
    pub fn hide(&self, light: &mut Light, draws: [f64; 6]) {
        let middle_deg = 1.0 + 3.0 * draws[0];
        let half_deg = 0.4 + 1.8 * draws[1];
        let top_deg = -0.3 + 3.0 * draws[2];
        let left = 0.03 + 0.2 * draws[3];
        let soft_deg = 0.02;
        light.each(|x_px, y_px, rgb| {
            let [across_deg, up_deg] = self.angles_deg(x_px, y_px);
            let inside_deg = (half_deg - (across_deg - middle_deg).abs()).min(top_deg - up_deg);
            let share = (0.5 + inside_deg / soft_deg).clamp(0.0, 1.0);
            let kept = (1.0 - share * (1.0 - left)) as f32;
            *rgb = rgb.map(|value| value * kept);
        });
    }
}
