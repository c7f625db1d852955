//! Progress on a terminal, and the wish to stop.

use std::fmt::Write;
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

use crate::report::format::numbers::grouped;
use crate::study::common::progress::Progress;

static STOP: AtomicBool = AtomicBool::new(false);

/// Set once the user or the system asks to stop; work then ends before the next converter.
pub(super) fn stop_on_signal() -> anyhow::Result<&'static AtomicBool> {
    ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed))?;
    Ok(&STOP)
}

/// Whether somebody asked to stop, once [`stop_on_signal`] listens.
pub(super) fn stop() -> &'static AtomicBool {
    &STOP
}

/// A bar with rate and time left; hidden unless standard error is a terminal.
pub(super) fn bar(samples: u64, quiet: bool) -> anyhow::Result<ProgressBar> {
    shown(samples, quiet, "{done} of {all} samples  {wide_bar}  {rate} a second  {eta} left")
}

/// The same for runs, whose number is a guess that gets better.
pub(super) fn trials(quiet: bool) -> anyhow::Result<ProgressBar> {
    shown(1, quiet, "{done} of about {all} runs  {wide_bar}  {rate} a second  {eta} left")
}

/// The same for a stage of the work that has a name.
pub(super) fn stage(name: &'static str, length: u64, quiet: bool) -> anyhow::Result<ProgressBar> {
    let template = "{msg}: {done} of {all}  {wide_bar}  {rate} a second  {eta} left";
    Ok(shown(length, quiet, template)?.with_message(name))
}

/// A bar for every stage of a study; the last one goes when this is dropped.
pub(super) struct StageBars {
    quiet: bool,
    bar: Option<ProgressBar>,
}

impl StageBars {
    /// None yet.
    pub(super) fn new(quiet: bool) -> Self {
        Self { quiet, bar: None }
    }
}

impl Progress for StageBars {
    fn stage(&mut self, name: &'static str, converters: u64) {
        if let Some(last) = self.bar.take() {
            last.finish_and_clear();
        }
        // A bar that cannot be drawn is no reason to stop the work.
        self.bar = stage(name, converters, self.quiet).ok();
    }

    fn advance(&mut self, converters: u64) {
        if let Some(bar) = &self.bar {
            bar.inc(converters);
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

fn shown(length: u64, quiet: bool, template: &str) -> anyhow::Result<ProgressBar> {
    let shown = !quiet && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template(template)?
        .with_key("done", |s: &ProgressState, w: &mut dyn Write| show(w, &grouped(s.pos())))
        .with_key("all", |s: &ProgressState, w: &mut dyn Write| {
            show(w, &grouped(s.len().unwrap_or_default()));
        })
        .with_key("rate", |s: &ProgressState, w: &mut dyn Write| {
            let rate = s.per_sec();
            show(w, &format!("{rate:.*}", usize::from(rate < 10.0)));
        });
    let bar = ProgressBar::with_draw_target(Some(length), target).with_style(style);
    if shown {
        bar.enable_steady_tick(Duration::from_millis(200));
    }
    Ok(bar)
}

fn show(w: &mut dyn Write, text: &str) {
    // The bar has no way to hand an error on, and nothing is lost with it.
    let _ = w.write_str(text);
}
