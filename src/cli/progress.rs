//! Progress on a terminal, and the wish to stop.

use std::fmt::Write;
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

use crate::report::format::numbers::count;
use crate::study::common::progress::Progress;

/// What every verb on a scenario does first; nobody knows how long it takes.
const NOMINAL: &str = "solving the nominal converter";

static STOP: AtomicBool = AtomicBool::new(false);

/// Set once the user or the system asks to stop; work then ends before the next converter.
pub(super) fn stop_on_signal() -> anyhow::Result<&'static AtomicBool> {
    ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed))?;
    Ok(&STOP)
}

/// Whether the user or the system asked to stop.
pub(super) fn is_stop_wanted() -> bool {
    STOP.load(Ordering::Relaxed)
}

/// A bar for every stage of a study; the last one goes when this is dropped.
pub(super) struct StageBars {
    quiet: bool,
    bar: Option<ProgressBar>,
}

impl StageBars {
    /// The stage before all others, in which the nominal converter is solved.
    pub(super) fn new(quiet: bool) -> Self {
        let mut bars = Self::without_converter(quiet);
        bars.stage(NOMINAL, 0);
        bars
    }

    /// Bars of a study that solves no converter.
    pub(super) fn without_converter(quiet: bool) -> Self {
        Self { quiet, bar: None }
    }
}

impl Progress for StageBars {
    fn stage(&mut self, name: &'static str, units: u64) {
        if let Some(last) = self.bar.take() {
            last.finish_and_clear();
        }
        // A bar that cannot be drawn is no reason to stop the work.
        self.bar = shown(name, units, self.quiet).ok();
    }

    fn advance(&mut self, units: u64) {
        if let Some(bar) = &self.bar {
            bar.inc(units);
        }
    }

    fn expect(&mut self, units: u64) {
        if let Some(bar) = &self.bar {
            bar.set_length(bar.position() + units);
        }
    }
}

impl Drop for StageBars {
    fn drop(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

/// Name and time taken, of a stage whose length nobody knows.
const OPEN_TEMPLATE: &str = "{msg}  {elapsed}";
/// Name, count, rate and time left.
const TEMPLATE: &str = "{msg}: {done} of {all}  {wide_bar}  {rate} a second  {eta} left";

/// A bar, without a length where that is zero; hidden unless standard error is a terminal.
fn shown(name: &'static str, length: u64, quiet: bool) -> anyhow::Result<ProgressBar> {
    let shown = !quiet && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = if length == 0 { ProgressStyle::with_template(OPEN_TEMPLATE)? } else { style()? };
    let bar = ProgressBar::with_draw_target((length > 0).then_some(length), target);
    let bar = bar.with_style(style).with_message(name);
    // The ticks come from a thread of their own, which draws the bar as it is by then.
    if shown {
        bar.enable_steady_tick(Duration::from_millis(200));
    }
    Ok(bar)
}

fn style() -> anyhow::Result<ProgressStyle> {
    let style = ProgressStyle::with_template(TEMPLATE)?
        .with_key("done", |s: &ProgressState, w: &mut dyn Write| show(w, &count(s.pos())))
        .with_key("all", |s: &ProgressState, w: &mut dyn Write| {
            show(w, &count(s.len().unwrap_or_default()));
        })
        .with_key("rate", |s: &ProgressState, w: &mut dyn Write| {
            let rate = s.per_sec();
            show(w, &format!("{rate:.*}", usize::from(rate < 10.0)));
        });
    Ok(style)
}

fn show(w: &mut dyn Write, text: &str) {
    // The bar has no way to hand an error on, and nothing is lost with it.
    let _ = w.write_str(text);
}
