//! What `--help` shows below the options: an example and what the verb writes.
//!
//! A line that begins with two blanks is an example: it stays below 73 columns, and the manual page
//! shows it as it is. All other lines are paragraphs, which help and manual wrap.

/// Above the list of verbs.
pub(super) const VERBS: &str = "Verbs, in the order in which one works";

/// Below the list of verbs: the way of working, and the exit status.
pub(super) const PROGRAM: &str = "\
The way of working:
  fairphase draft my.toml      write a scenario, then change its numbers
  fairphase shapes parts.csv   how do measured parts scatter?
  fairphase check my.toml      does it reach every operating point?
  fairphase run my.toml        how many converters meet every limit?
  fairphase bands my.toml      which tolerance may each part have?
  fairphase grades my.toml     which part grades are the cheapest?
  fairphase sensors my.toml    are current sensors needed?
  fairphase capacitors my.toml how large must they be?
  fairphase faults my.toml     what if one part fails?
  fairphase compare A B        what differs between results A and B?
`fairphase VERB --help` shows an example and the files that it writes.
Every verb answers in a screenful, with the next command; --tables prints all tables.

Exit status: 0 the verb did its work, whatever the verdict; 1 the verdict is not a pass \
(with --require-pass only); 2 the command line or an input file is wrong; 3 the work could \
not be finished (interrupted, disk full).

High voltage can kill and a wrong rating can burn. Results are those of a model: \
standards, local codes and a qualified engineer decide.";

/// Below the options of `draft`.
pub(super) const DRAFT: &str = "\
Example:
  fairphase draft my.toml
  fairphase check my.toml

Writes: the file, and only where no file, folder or link has its name.";

/// Below the options of `shapes`.
pub(super) const SHAPES: &str = "\
Examples:
  fairphase shapes scenarios/incoming-transformers.csv
  fairphase shapes scenarios/incoming-transformers.csv \\
      --column magnetising_inductance_H --nominal \"22.8 µH\" --band \"5 %\"

Reads: CSV with one row a part. Columns may be named as in a parts file of `units`, or in any \
other way.
Writes: report.html (histograms, probability plots, lines for a scenario), summary.json.";

/// Below the options of `compare`.
pub(super) const COMPARE: &str = "\
Examples:
  fairphase run scenarios/telecom-shelf.toml --out before
  fairphase run scenarios/telecom-shelf.toml --seed 2 --out after
  fairphase compare before after

Reads: folders of results of one verb, or their summary.json; samples.parquet where both list the \
same samples. Compares yields and numbers of run, sensors, grades and bands; of other verbs what the \
scenario changed.
Writes: report.html, comparison.csv (a row a yield or other number), summary.json.";

/// Below the options of `check`.
pub(super) const CHECK: &str = "\
Example:
  fairphase check scenarios/telecom-shelf.toml

Writes: no file. Nothing is sampled: --samples, --seed, --threads and --out change nothing.";

/// Below the options of `gain`.
pub(super) const GAIN: &str = "\
Example:
  fairphase gain scenarios/electrolyser-supply.toml

Writes: report.html (the curves), gain.csv, summary.json.
Nothing is sampled: --samples and --seed change nothing.";

/// Below the options of `run`.
pub(super) const RUN: &str = "\
Example:
  fairphase run scenarios/telecom-shelf.toml
  fairphase run scenarios/telecom-shelf.toml --decide

The run then explains itself: what drives failures and figures, and which other assumption \
about the parts changes the verdict. --no-explain leaves that out.

Writes: report.html (histograms, yields, verdict), samples.parquet (the results of every \
converter; --columns chooses), population.parquet (its parts), worst_converters.csv (the worst ones, for \
`units --parts`), ratings.csv (what to order), summary.json. With --shard: tallies.bin and samples.parquet, for `merge`.";

/// Below the options of `merge`.
pub(super) const MERGE: &str = "\
Example, the parts on as many machines as there are:
  fairphase run scenarios/telecom-shelf.toml --shard 1/2 --out part-1
  fairphase run scenarios/telecom-shelf.toml --shard 2/2 --out part-2
  fairphase merge part-1 part-2

The parts hold scenario, seed and options. Parts of another run, parts that are there twice and missing \
ones are refused.
Writes: what `run` writes.";

/// Below the options of `units`.
pub(super) const UNITS: &str = "\
Examples, the first with the worst converters of a run:
  fairphase run scenarios/pump-drive.toml --out worst
  fairphase units scenarios/pump-drive.toml \\
      --parts worst/worst_converters.csv --out solved
Where drift with temperature or age scatters, a converter of that file holds at \
the operating point in its name alone.

Two prototypes, one with unequal tanks on purpose, and what was measured on them:
  fairphase units scenarios/pump-drive.toml \\
      --parts scenarios/pump-drive-prototypes.csv \\
      --measured scenarios/pump-drive-currents.csv \\
      --measuring-uncertainty \"2 %\" --over-load

Their currents and voltages over one period, to plot or to set beside an oscilloscope:
  fairphase units scenarios/pump-drive.toml \\
      --parts scenarios/pump-drive-prototypes.csv --waveforms waves.csv

Every converter is judged against every limit. Measured currents are columns of the parts file or of \
a file of their own: measured_output_current_A, measured_mean_abs_tank_current_A, \
measured_rms_tank_current_A.

Writes: report.html, units.csv (a row a phase), summary.json; with --over-load also over_load.csv; \
with --waveforms the file named.
Nothing is sampled: --samples and --seed change nothing.";

/// Below the options of `bands`.
pub(super) const BANDS: &str = "\
Example:
  fairphase bands scenarios/runway-lights.toml

The recommended set is then tried under other assumptions about its parts. --no-explain leaves that \
out.

Needs one table [tolerance.X] at least, or price lists of parts on offer.
Writes: report.html (bands to specify, margins, trade-off), summary.json.";

/// Below the options of `grades`.
pub(super) const GRADES: &str = "\
Examples, the second with measured parts in stock:
  fairphase grades scenarios/seabed-node.toml
  fairphase grades scenarios/seabed-node.toml \\
      --stock scenarios/seabed-node-tanks.csv \\
      --capacitors scenarios/seabed-node-capacitors.csv

Needs the tables [grades] and [[grade.X]]; a stock is allotted without them too.
Writes: report.html, grades.csv (a row a set of grades), summary.json; with --stock also \
build_list.csv (which part goes into which converter: `units --parts` reads it) and not_passing.csv \
(converters that fail, and the part to exchange).";

/// Below the options of `sensors`.
pub(super) const SENSORS: &str = "\
Example:
  fairphase sensors scenarios/greenhouse-lamps.toml

Needs the table [sensors].
Writes: report.html (one page for a design review), summary.json.";

/// Below the options of `capacitors`.
pub(super) const CAPACITORS: &str = "\
Example:
  fairphase capacitors scenarios/canal-lock.toml

[capacitors] of the scenario tells which sizes are tried.
Writes: report.html, capacitors.csv (a row a size, operating point and capacitor), summary.json.";

/// Below the options of `faults`.
pub(super) const FAULTS: &str = "\
Example:
  fairphase faults scenarios/telecom-shelf.toml

A slow controller and body diodes are assumed. The table [faults] states their drop, and how far \
flying capacitors age. Where the nominal converter runs on, drawn ones tell the yield of what \
remains: --samples, else `samples` of [faults].

Writes: report.html, faults.csv (a row a phase), summary.json.";

/// Below the options of `schema`.
pub(super) const SCHEMA: &str = "\
Example, for an editor that reads JSON Schema:
  fairphase schema scenario > scenario.schema.json

Prints on standard output and writes no file.";

/// Below the options of `completions`.
pub(super) const COMPLETIONS: &str = "\
Example, for bash:
  fairphase completions bash > fairphase.bash
  source fairphase.bash

Prints on standard output and writes no file.";

/// Below the options of `manual`.
pub(super) const MANUAL: &str = "\
Example:
  fairphase manual > fairphase.1
  man ./fairphase.1

Prints on standard output and writes no file.";
