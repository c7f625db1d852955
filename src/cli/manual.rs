//! `manual`: one page of the manual, in the language of `man`, from the same texts as `--help`.

use std::io;

use clap::Command;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use super::arguments::SHARED_OPTIONS;
use super::error::CliError;
use super::exit::ExitStatus;
use super::output::print;

pub(super) fn print_manual(program: Command) -> Result<ExitStatus, CliError> {
    let page = page(program).map_err(anyhow::Error::from)?;
    print(&String::from_utf8_lossy(&page))?;
    Ok(ExitStatus::Done)
}

fn page(mut program: Command) -> io::Result<Vec<u8>> {
    program.build();
    let mut page = Vec::new();
    let man = Man::new(program.clone());
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    below_the_options(&program).to_writer(&mut page)?;
    let verbs = || program.get_subcommands().filter(|verb| verb.get_name() != "help");
    for verb in verbs() {
        section(verb, &mut page)?;
    }
    if let Some(verb) = verbs().find(|verb| verb.get_arguments().any(is_shared)) {
        let shared = verb.clone().mut_args(|argument| {
            let is_shared = is_shared(&argument);
            argument.hide(!is_shared)
        });
        Man::new(shared).render_options_section(&mut page)?;
    }
    man.render_version_section(&mut page)?;
    Ok(page)
}

/// The section of a verb: what it answers, its command line, its own options, an example.
fn section(verb: &Command, page: &mut Vec<u8>) -> io::Result<()> {
    let mut title = Roff::new();
    title.control("SH", [format!("fairphase {}", verb.get_name()).as_str()]);
    title.to_writer(page)?;
    let mut parts = Vec::new();
    let man = Man::new(verb.clone());
    man.render_description_section(&mut parts)?;
    man.render_synopsis_section(&mut parts)?;
    let without_shared = verb.clone().mut_args(|argument| {
        let is_shared = is_shared(&argument);
        argument.hide(is_shared)
    });
    Man::new(without_shared).render_options_section(&mut parts)?;
    let mut title = Roff::new();
    title.control("SH", ["EXAMPLE"]);
    title.to_writer(&mut parts)?;
    page.extend(String::from_utf8_lossy(&parts).replace("\n.SH ", "\n.SS ").bytes());
    below_the_options(verb).to_writer(page)
}

fn is_shared(argument: &clap::Arg) -> bool {
    argument.get_help_heading() == Some(SHARED_OPTIONS)
}

/// What help shows below the options: examples line by line, paragraphs as text.
fn below_the_options(command: &Command) -> Roff {
    let mut roff = Roff::new();
    roff.control("PP", []);
    let text = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    for line in text.lines() {
        if line.is_empty() {
            roff.control("PP", []);
        } else if line.starts_with("  ") {
            roff.control("nf", []);
            roff.text([roman(line)]);
            roff.control("fi", []);
        } else {
            roff.text([roman(line)]);
            roff.control("br", []);
        }
    }
    roff
}
