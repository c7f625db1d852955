//! Progress on a terminal, and the wish to stop.

use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

static STOP: AtomicBool = AtomicBool::new(false);

/// Set once the user or the system asks to stop; work then ends between two batches.
pub(super) fn stop_on_signal() -> anyhow::Result<&'static AtomicBool> {
    ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed))?;
    Ok(&STOP)
}

/// A bar with rate and time left; hidden unless standard error is a terminal.
pub(super) fn bar(samples: u64, quiet: bool) -> anyhow::Result<ProgressBar> {
    let shown = !quiet && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template(
        "{human_pos} of {human_len} samples  {wide_bar}  {per_sec}  {eta} left",
    )?;
    let bar = ProgressBar::with_draw_target(Some(samples), target).with_style(style);
    if shown {
        bar.enable_steady_tick(Duration::from_millis(200));
    }
    Ok(bar)
}
