//! How a disturbed node comes back, period after period.

use nalgebra::DVector;

use super::period_map::PeriodMap;

impl PeriodMap {
    /// Voltages of all nodes over that of one node when that was moved by one volt, in both legs of a
    /// full bridge: at the start, and then every `stride` periods, `points` in all. What neutral modes
    /// keep is left out.
    pub fn after_disturbance(&self, node: usize, stride: u32, points: usize) -> Vec<Vec<f64>> {
        let layout = &self.circuit;
        let mut plain = DVector::zeros(layout.size());
        for place in (0..layout.legs()).filter_map(|leg| layout.flying(leg, node)) {
            plain[place] = 1.0;
        }
        let mut at = self.without_neutral(&layout.scaled(&plain));
        let step = self.decaying.pow(stride);
        (0..points)
            .map(|_| {
                let now = self.node_voltages(&at);
                at = &step * &at;
                now
            })
            .collect()
    }

    /// Of each node the mean of the legs.
    fn node_voltages(&self, scaled: &DVector<f64>) -> Vec<f64> {
        let layout = &self.circuit;
        let plain = layout.unscaled(scaled);
        let voltage = |node: usize| {
            let places = (0..layout.legs()).filter_map(|leg| layout.flying(leg, node));
            places.map(|place| plain[place]).sum::<f64>() / layout.legs() as f64
        };
        (0..layout.nodes()).map(voltage).collect()
    }
}
