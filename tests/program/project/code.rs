//! Functions are short, types have names of their own, parameters are named.

use std::collections::BTreeMap;

use clap::CommandFactory;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{FnArg, ImplItemFn, Item, ItemFn, Pat, Signature, TraitItemFn, Type, Visibility};

use super::files_of_the_crate;
use super::source::{Files, attributes, is_for_tests};

/// Most lines of a function: of one in two, of nine in ten, and of any.
const LENGTHS: [usize; 3] = [9, 27, 60];

/// A function with the number of its lines, from `fn` to its closing brace.
struct Function {
    name: String,
    lines: usize,
}

#[derive(Default)]
struct Functions {
    found: Vec<Function>,
    with_tuples: Vec<String>,
}

impl Functions {
    fn add(&mut self, signature: &Signature, end: usize) {
        let name = signature.ident.to_string();
        let lines = end + 1 - signature.span().start().line;
        self.found.push(Function { name, lines });
    }

    fn check_parameters(&mut self, signature: &Signature) {
        let tuple = |argument: &FnArg| match argument {
            FnArg::Receiver(_) => false,
            FnArg::Typed(typed) => matches!(*typed.pat, Pat::Tuple(_)) || is_tuple(&typed.ty),
        };
        if signature.inputs.iter().any(tuple) {
            self.with_tuples.push(signature.ident.to_string());
        }
    }
}

/// A tuple by itself or behind a reference; a list of pairs is data.
fn is_tuple(written: &Type) -> bool {
    match written {
        Type::Tuple(tuple) => !tuple.elems.is_empty(),
        Type::Reference(reference) => is_tuple(&reference.elem),
        _ => false,
    }
}

impl<'a> Visit<'a> for Functions {
    fn visit_item(&mut self, item: &'a Item) {
        if !is_for_tests(attributes(item)) {
            visit::visit_item(self, item);
        }
    }

    fn visit_item_fn(&mut self, function: &'a ItemFn) {
        self.add(&function.sig, function.block.span().end().line);
        visit::visit_item_fn(self, function);
    }

    fn visit_impl_item_fn(&mut self, function: &'a ImplItemFn) {
        self.add(&function.sig, function.block.span().end().line);
        visit::visit_impl_item_fn(self, function);
    }

    fn visit_trait_item_fn(&mut self, function: &'a TraitItemFn) {
        if let Some(block) = &function.default {
            self.add(&function.sig, block.span().end().line);
        }
        visit::visit_trait_item_fn(self, function);
    }

    fn visit_signature(&mut self, signature: &'a Signature) {
        self.check_parameters(signature);
    }
}

fn functions(text: &str) -> Functions {
    let mut functions = Functions::default();
    functions.visit_file(&syn::parse_file(text).unwrap());
    functions
}

/// What is too long, if anything.
fn too_long(lengths: &mut [Function]) -> Vec<String> {
    lengths.sort_by_key(|function| function.lines);
    let at = |part: usize| lengths[(lengths.len() * part / 10).min(lengths.len() - 1)].lines;
    let [half, nine_tenths, any] = LENGTHS;
    let mut wrong = Vec::new();
    if at(5) > half {
        wrong.push(format!("one function in two has more than {half} lines: {}", at(5)));
    }
    if at(9) > nine_tenths {
        wrong.push(format!("one function in ten has more than {nine_tenths} lines: {}", at(9)));
    }
    let long = lengths.iter().filter(|function| function.lines > any);
    wrong.extend(long.map(|function| format!("{} has {} lines", function.name, function.lines)));
    wrong
}

#[test]
fn functions_are_short() {
    let mut all: Vec<Function> = files_of_the_crate()
        .iter()
        .flat_map(|(file, text)| {
            let found = functions(text).found.into_iter();
            found.map(move |f| Function { name: format!("{file}: {}", f.name), lines: f.lines })
        })
        .collect();
    assert!(all.len() > 500, "the functions were read: {}", all.len());
    assert_eq!(too_long(&mut all), Vec::<String>::new());
}

#[test]
fn long_functions_are_seen() {
    let function = |lines: usize| format!("fn f() {{\n{}}}\n", "g();\n".repeat(lines - 2));
    let texts = [(9, 0), (10, 1), (28, 2), (61, 3)];
    for (lines, complaints) in texts {
        let mut found = functions(&function(lines)).found;
        assert_eq!(found[0].lines, lines);
        assert_eq!(too_long(&mut found).len(), complaints, "{lines} lines");
    }
    let mixed = [3, 5, 5, 5, 5, 5, 5, 5, 5, 61].map(function).concat();
    let told = too_long(&mut functions(&mixed).found);
    assert_eq!(told, ["one function in ten has more than 27 lines: 61", "f has 61 lines"]);
    let hidden = format!("#[cfg(test)]\nmod tests {{\n{}}}\n", function(90));
    assert!(functions(&hidden).found.is_empty());
}

/// Functions with a tuple for a parameter, by file.
fn tuple_parameters(files: &Files) -> Vec<String> {
    let told = |file: &String, text: &String| -> Vec<String> {
        functions(text).with_tuples.iter().map(|name| format!("{file}: {name}")).collect()
    };
    files.iter().flat_map(|(file, text)| told(file, text)).collect()
}

#[test]
fn no_parameter_is_a_tuple() {
    assert_eq!(tuple_parameters(&files_of_the_crate()), Vec::<String>::new());
}

#[test]
fn tuples_among_parameters_are_seen() {
    let seen = |text: &str| tuple_parameters(&super::texts(&[("a.rs", text)]));
    for text in
        ["fn f((a, b): (A, B)) {}", "fn f(x: &(f64, f64)) {}", "impl A { fn f(x: (A, B)) {} }"]
    {
        assert_eq!(seen(text), ["a.rs: f"], "{text}");
    }
    for text in ["fn f(points: &[(f64, f64)]) {}", "fn f(done: ()) {}", "fn f(a: fn((A, B))) {}"] {
        assert!(seen(text).is_empty(), "{text}");
    }
}

/// Types, traits and aliases that more than their own file may use, with their files.
#[derive(Default)]
struct Types {
    file: String,
    found: BTreeMap<String, Vec<String>>,
}

impl Visit<'_> for Types {
    fn visit_item(&mut self, item: &Item) {
        if is_for_tests(attributes(item)) {
            return;
        }
        let (visibility, name) = match item {
            Item::Enum(item) => (&item.vis, &item.ident),
            Item::Struct(item) => (&item.vis, &item.ident),
            Item::Trait(item) => (&item.vis, &item.ident),
            Item::Type(item) => (&item.vis, &item.ident),
            _ => return visit::visit_item(self, item),
        };
        if !matches!(visibility, Visibility::Inherited) {
            self.found.entry(name.to_string()).or_default().push(self.file.clone());
        }
    }
}

/// Names that stand for more than one type.
fn shared_names(files: &Files) -> Vec<String> {
    let mut types = Types::default();
    for (file, text) in files {
        types.file.clone_from(file);
        types.visit_file(&syn::parse_file(text).unwrap());
    }
    let several = types.found.iter().filter(|(_, files)| files.len() > 1);
    several.map(|(name, files)| format!("{name}: {}", files.join(", "))).collect()
}

#[test]
fn no_two_types_have_one_name() {
    assert_eq!(shared_names(&files_of_the_crate()), Vec::<String>::new());
}

#[test]
fn types_of_one_name_are_seen() {
    let seen = |first: &str, second: &str| {
        shared_names(&super::texts(&[("a.rs", first), ("b.rs", second)]))
    };
    assert_eq!(seen("pub struct Name;", "pub(crate) enum Name {}"), ["Name: a.rs, b.rs"]);
    assert_eq!(seen("pub(super) type Name = u8;", "pub(in crate::a) trait Name {}").len(), 1);
    assert!(seen("struct Name;", "pub struct Name;").is_empty());
    assert!(seen("pub struct Name;", "#[cfg(test)] mod tests { pub struct Name; }").is_empty());
}

/// Folders that belong to no verb.
fn strays(folders: &[String], verbs: &[&str]) -> Vec<String> {
    let fits = |folder: &String| folder == "format" || verbs.contains(&folder.as_str());
    folders.iter().filter(|folder| !fits(folder)).cloned().collect()
}

#[test]
fn every_folder_of_reports_is_a_verb() {
    let command = fairphase::cli::Cli::command();
    let verbs: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
    assert!(verbs.contains(&"run"), "{verbs:?}");
    let mut folders: Vec<String> = files_of_the_crate()
        .keys()
        .filter_map(|file| file.strip_prefix("report/")?.split_once('/'))
        .map(|(folder, _)| folder.to_owned())
        .collect();
    folders.dedup();
    assert!(folders.len() > 5, "{folders:?}");
    assert_eq!(strays(&folders, &verbs), Vec::<String>::new());
    assert_eq!(strays(&["html".to_owned(), "run".to_owned()], &verbs), ["html"]);
}
