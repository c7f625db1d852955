//! Random legal scenarios: demos with values, tables and operating points changed, each change kept if the
//! reader still takes the whole.
#![allow(unreachable_pub, clippy::unwrap_used, reason = "a test")]

use rand::seq::{IndexedMutRandom, IndexedRandom};
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use toml::{Table, Value};

/// Demos that need no further file.
const DEMOS: [&str; 10] = [
    include_str!("../../scenarios/canal-lock.toml"),
    include_str!("../../scenarios/electrolyser-supply.toml"),
    include_str!("../../scenarios/ferry-lighting.toml"),
    include_str!("../../scenarios/foundry-magnet.toml"),
    include_str!("../../scenarios/greenhouse-lamps.toml"),
    include_str!("../../scenarios/lock-gates.toml"),
    include_str!("../../scenarios/pump-drive.toml"),
    include_str!("../../scenarios/runway-lights.toml"),
    include_str!("../../scenarios/seabed-node.toml"),
    include_str!("../../scenarios/telecom-shelf.toml"),
];
/// Changes that are kept, at most, and tried.
const KEPT: usize = 8;
const TRIED: usize = 40;

/// The text of a random scenario; the same number gives the same text.
pub fn random_scenario(number: u64, is_legal: impl Fn(&str) -> bool) -> String {
    let mut changes = Changes(ChaCha8Rng::seed_from_u64(number));
    let mut scenario: Table = changes.demo();
    let wanted = changes.0.random_range(1..=KEPT);
    let mut kept = 0;
    for _ in 0..TRIED {
        let mut changed = scenario.clone();
        if changes.make(&mut changed).is_some() && is_legal(&changed.to_string()) {
            scenario = changed;
            kept += 1;
        }
        if kept == wanted {
            break;
        }
    }
    scenario.to_string()
}

/// The source of random changes. Each gives nothing where it finds nothing to change.
struct Changes(ChaCha8Rng);

impl Changes {
    fn demo(&mut self) -> Table {
        DEMOS.choose(&mut self.0).unwrap().parse().unwrap()
    }

    fn decades(&mut self, low: f64, high: f64) -> f64 {
        10_f64.powf(self.0.random_range(low..high))
    }

    fn make(&mut self, scenario: &mut Table) -> Option<()> {
        match self.0.random_range(0..12) {
            0 => self.phases(scenario),
            1 | 2 => self.frequency(scenario),
            3 | 4 => self.exchange_table(scenario),
            5 => self.remove(scenario),
            6 => self.operating_point(scenario),
            7 => self.load(scenario),
            8 => self.tank(scenario),
            _ => self.value(scenario),
        }
    }

    fn phases(&mut self, scenario: &mut Table) -> Option<()> {
        let phases = self.0.random_range(2..=12_i64);
        *scenario.get_mut("converter")?.get_mut("phases")? = phases.into();
        Some(())
    }

    /// Any band, from far below to far above what any tank does.
    fn frequency(&mut self, scenario: &mut Table) -> Option<()> {
        let frequency = scenario.get_mut("converter")?.get_mut("frequency")?;
        let minimum = self.decades(-3.0, 7.0);
        let maximum = minimum * self.decades(0.0, 8.0);
        if self.0.random() {
            *frequency.get_mut("minimum")? = format!("{minimum:e} Hz").into();
        }
        *frequency.get_mut("maximum")? = format!("{maximum:e} Hz").into();
        Some(())
    }

    /// A table of another demo, in the place of the own one or beside the own ones.
    fn exchange_table(&mut self, scenario: &mut Table) -> Option<()> {
        let other = self.demo();
        let keys: Vec<&String> = other.keys().filter(|key| *key != "title").collect();
        let key = keys.choose(&mut self.0)?.as_str();
        let (mut from, mut to, mut key) = (&other, scenario, key.to_owned());
        // A table of the converter's or of the tolerances, rather than all of them.
        while let (Some(inner), true) = (from[&key].as_table(), self.0.random()) {
            let outer = to.entry(key.clone()).or_insert_with(|| Table::new().into());
            (from, to) = (inner, outer.as_table_mut()?);
            key.clone_from(from.keys().collect::<Vec<_>>().choose(&mut self.0)?);
        }
        to.insert(key.clone(), from[&key].clone());
        Some(())
    }

    fn remove(&mut self, scenario: &mut Table) -> Option<()> {
        let mut within = scenario;
        loop {
            let key =
                within.keys().collect::<Vec<_>>().choose(&mut self.0).map(|key| (*key).clone())?;
            if !within[&key].is_table() || self.0.random() {
                within.remove(&key);
                return Some(());
            }
            within = within.get_mut(&key)?.as_table_mut()?;
        }
    }

    fn operating_point(&mut self, scenario: &mut Table) -> Option<()> {
        let points = scenario.get_mut("operating_point")?.as_array_mut()?;
        let mut point = points.choose(&mut self.0)?.clone();
        point.as_table_mut()?.insert("name".into(), format!("point {}", points.len()).into());
        self.any_value(&mut point)?;
        points.push(point);
        Some(())
    }

    /// Anything from no load to far beyond what the tank can give.
    fn load(&mut self, scenario: &mut Table) -> Option<()> {
        let points = scenario.get_mut("operating_point")?.as_array_mut()?;
        let point = points.choose_mut(&mut self.0)?;
        let factor = self.decades(-9.0, 4.0);
        match point.get_mut("output_power") {
            Some(power) => scale(power, factor),
            None => scale(point.get_mut("output_current")?, factor),
        }
    }

    fn tank(&mut self, scenario: &mut Table) -> Option<()> {
        let tank = scenario.get_mut("converter")?.get_mut("tank")?;
        self.any_value(tank)
    }

    fn value(&mut self, scenario: &mut Table) -> Option<()> {
        let mut whole = Value::Table(std::mem::take(scenario));
        let done = self.any_value(&mut whole);
        if let Value::Table(table) = whole {
            *scenario = table;
        }
        done
    }

    /// Another value in one place: a little or far off, none, or the least.
    fn any_value(&mut self, within: &mut Value) -> Option<()> {
        let mut all = leaves(within);
        let value = all.choose_mut(&mut self.0)?;
        match self.0.random_range(0..8) {
            0 => scale(value, 0.0),
            1 => scale(value, self.decades(-12.0, 12.0)),
            2 | 3 => scale(value, self.decades(-4.0, 4.0)),
            _ => scale(value, self.decades(-1.0, 1.0)),
        }
    }
}

/// All values that are no tables and no lists.
fn leaves(value: &mut Value) -> Vec<&mut Value> {
    match value {
        Value::Table(table) => table.iter_mut().flat_map(|(_, inner)| leaves(inner)).collect(),
        Value::Array(items) => items.iter_mut().flat_map(leaves).collect(),
        _ => vec![value],
    }
}

/// Multiplies a number or a quantity; a switch is thrown. Counts stay: they ask for as much work.
fn scale(value: &mut Value, factor: f64) -> Option<()> {
    *value = match value {
        Value::Float(x) => (*x * factor).into(),
        Value::Boolean(x) => (!*x).into(),
        Value::String(text) => {
            let (number, unit) = text.split_once(' ')?;
            format!("{:e} {unit}", number.parse::<f64>().ok()? * factor).into()
        }
        _ => return None,
    };
    Some(())
}
