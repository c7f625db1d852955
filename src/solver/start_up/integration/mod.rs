//! Starts of a chain, integrated: the whole coupled circuit from any capacitor voltages, half period by half
//! period.
//!
//! Within a half period a phase sees only its own current through its flying capacitors, so each tank has a
//! closed form from one rectifier event to the next. Input and output voltages are taken as constant over
//! a half period. Ideal gates at duty 0.5, no dead time, no switch capacitance.
//!
//! Body diodes act where gates leave a voltage to them (first law of failed parts, `V(k) ≥ −drop`, and
//! `v(k) ≤ v(k−2) + drop`). The diode of a low switch that a tank current reaches takes this current: the
//! flying capacitors then keep their charges until it ends. What a switching instant leaves beyond a diode's
//! drop flows at once, as its millohm of resistance would let it.

mod circuit;
mod leg;
mod record;

pub use self::circuit::{StartCircuit, StartInput, StartOutput, StartPlan};
pub use self::record::{IntegratedStart, SwitchRecord};
