//! `units`: converters whose parts are listed in a file.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::named_file::NamedFile;
use super::output::note;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::input::file::InputFile;
use crate::input::quantity::{self, Ratio};
use crate::population::measured_currents;
use crate::population::parts_file::{self, PartsFrame, PartsList};
use crate::printable;
use crate::report::units::{
    SourceFile, UnitsSource, WaveformTable, first_line_of_waveforms, report,
};
use crate::scenario::{Scenario, file_name};
use crate::solver::Method;
use crate::study::units::{UnitsRequest, each_waveforms, units as study};

/// The command line of `units`.
#[derive(Debug, Args)]
pub(super) struct UnitsArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// The converters' parts (CSV, one row a phase; `run` writes such a file)
    ///
    /// Optional columns of measured currents are set beside the prediction.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    parts: PathBuf,
    /// Currents measured on these converters at one load or several (CSV, one row a phase and load)
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    measured: Option<PathBuf>,
    /// Expanded uncertainty of the measured currents, of the reading, such as "2 %"
    ///
    /// It decides whether the measured currents contradict the model.
    #[arg(long, value_name = "PERCENT", value_parser = uncertainty)]
    measuring_uncertainty: Option<f64>,
    /// Follow each converter from a tenth of the output power to all of it, and draw its currents
    #[arg(long)]
    over_load: bool,
    /// Write the currents and voltages of each converter over one period to this file
    ///
    /// CSV, one row a converter, operating point, arrangement, phase and instant. It replaces only a former
    /// file of waveforms. The averaged solver knows no waveforms.
    #[arg(long, value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    waveforms: Option<PathBuf>,
}

/// An uncertainty above 0 and at most 50 %, as a fraction.
fn uncertainty(text: &str) -> Result<f64, String> {
    let fraction = quantity::parse::<Ratio>(text).ok().map(|Ratio(fraction)| fraction);
    let inside = fraction.filter(|fraction| *fraction > 0.0 && *fraction <= 0.5);
    inside.ok_or_else(|| {
        "expected a percentage above 0 % and at most 50 %, such as \"2 %\"".to_owned()
    })
}

impl Question for UnitsArguments {
    const DRAWS_SAMPLES: bool = false;

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn files(&self) -> Vec<&'static str> {
        vec![
            "report.html",
            "units.csv",
            "unit_ratings.csv",
            "unit_losses.csv",
            "commutation.csv",
            "over_load.csv",
        ]
    }

    fn inputs(&self) -> Vec<&Path> {
        std::iter::once(&self.parts).chain(&self.measured).map(PathBuf::as_path).collect()
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let waveforms = self.waveform_file(task)?;
        let parts = task.inputs.first().context("the parts were not read")?;
        let nominal = scenario.nominal_converter();
        let frame = PartsFrame { nominal: &nominal, operating_points: &scenario.operating_points };
        let read = parts_file::parse(&parts.name(), &parts.text, frame)?;
        let mut list = read.content;
        let parts = self.read(parts, read.read_as);
        let measured = self.read_measured(task.inputs.get(1), scenario, &mut list)?;
        let source = UnitsSource { parts, measured };
        if self.measuring_uncertainty.is_some()
            && list.readings.is_empty()
            && !self.common.shown.quiet
        {
            note("--measuring-uncertainty changes nothing: no file holds measured currents");
        }
        let request = UnitsRequest {
            units: &list.units,
            readings: &list.readings,
            measuring_uncertainty: self.measuring_uncertainty,
            over_load: self.over_load,
            method: self.common.method(),
            threads: self.common.threads(),
        };
        let bars = progress::StageBars::new(self.common.shown.is_silent());
        let listed = study(scenario, request, stop)?;
        let mut report = report(scenario, &source, request.method, &listed)?;
        if let Some(mut file) = waveforms {
            let mut table = WaveformTable::new(&mut file)?;
            each_waveforms(scenario, request, &listed, stop, &mut |own| table.add(own))?;
            table.finish()?;
            let placed = printable::path(&file.place()?);
            report.screen.also_written(&["Waveforms: ", &placed, "\n"].concat());
        }
        drop(bars);
        Ok(Answer { report, completion: Completion::Passed })
    }
}

impl UnitsArguments {
    /// The file of waveforms in the making, if asked for.
    fn waveform_file(&self, task: &Task<'_>) -> Result<Option<NamedFile>, CliError> {
        let Some(path) = &self.waveforms else { return Ok(None) };
        if self.common.method() == Method::Averaged {
            return Err(CliError::Input(
                "error: --waveforms and --solver averaged exclude each other\n  the averaged solver \
                 (fundamental harmonic) knows amplitudes of sines alone; leave --solver out\n"
                    .to_owned(),
            ));
        }
        NamedFile::open(path, &first_line_of_waveforms(), task).map(Some)
    }

    /// A file that was read, said where that was not in the plain way.
    fn read(&self, file: &InputFile, read_as: Option<String>) -> SourceFile {
        let name = file_name(&file.path);
        self.common.say_how_read(&name, read_as.as_deref());
        SourceFile { name, read_as }
    }

    /// Adds the currents of the file of measured ones to the list.
    fn read_measured(
        &self,
        file: Option<&InputFile>,
        scenario: &Scenario,
        list: &mut PartsList,
    ) -> Result<Option<SourceFile>, CliError> {
        let Some(file) = file else { return Ok(None) };
        let points = &scenario.operating_points;
        let read = measured_currents::parse(&file.name(), &file.text, list, points)?;
        list.readings = read.content;
        Ok(Some(self.read(file, read.read_as)))
    }
}
