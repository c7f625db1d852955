//! The crate's source as modules: what each file defines, imports and mentions.
//!
//! Code for tests is left out. Paths inside macros count too, because tokens are read, not types.

use std::collections::{BTreeMap, BTreeSet};

use proc_macro2::{TokenStream, TokenTree};
use quote::ToTokens;
use syn::{Attribute, Item, ItemUse, UseTree};

/// Text of each file, by its path from the folder `src`.
pub type Files = BTreeMap<String, String>;

/// Segments of a path, such as `["crate", "study", "run"]`.
pub type Segments = Vec<String>;

/// One module: a file, or an inline module of a file.
#[derive(Default)]
pub struct Module {
    pub file: String,
    pub children: BTreeSet<String>,
    /// Names that `use` brings into scope, with the path that they stand for.
    pub imports: BTreeMap<String, Import>,
    pub globs: Vec<Segments>,
    /// Names that the module defines itself.
    pub items: BTreeSet<String>,
    /// Paths mentioned outside `use` declarations.
    pub mentions: BTreeSet<Segments>,
}

pub struct Import {
    pub path: Segments,
    pub is_public: bool,
}

/// All modules of a crate by their segments from the root, which is empty.
pub struct Crate {
    pub modules: BTreeMap<Segments, Module>,
}

/// Where a path leads.
enum Target {
    Module(Segments),
    Item(Segments),
}

impl Crate {
    /// Reads the tree of modules from the root file of a library.
    pub fn read(files: &Files, root: &str) -> Crate {
        let mut found = Crate { modules: BTreeMap::new() };
        found.read_file(files, Vec::new(), root);
        found
    }

    /// Adds the root file of a program that uses the library by its name.
    pub fn add_program(&mut self, files: &Files, root: &str) {
        self.read_file(files, vec!["main".to_owned()], root);
    }

    fn read_file(&mut self, files: &Files, path: Segments, name: &str) {
        let text = files.get(name).unwrap_or_else(|| panic!("{name} is missing"));
        let parsed = syn::parse_file(text).unwrap_or_else(|error| panic!("{name}: {error}"));
        self.read_items(files, path, name, &parsed.items);
    }

    fn read_items(&mut self, files: &Files, path: Segments, name: &str, items: &[Item]) {
        let mut module = Module { file: name.to_owned(), ..Module::default() };
        for item in items.iter().filter(|item| !is_for_tests(attributes(item))) {
            match item {
                Item::Mod(child) => {
                    let child_name = child.ident.to_string();
                    let child_path = [path.clone(), vec![child_name.clone()]].concat();
                    if let Some((_, inside)) = &child.content {
                        self.read_items(files, child_path, name, inside);
                    } else {
                        let file = child_file(files, &path, &child_name);
                        self.read_file(files, child_path, &file);
                    }
                    module.children.insert(child_name);
                }
                Item::Use(declaration) => module.import(declaration),
                _ => {
                    module.items.extend(defined(item));
                    mentions(item.to_token_stream(), &mut module.mentions);
                }
            }
        }
        self.modules.insert(path, module);
    }

    /// Files that a module uses, each with the path that names it.
    pub fn uses(&self, path: &[String]) -> BTreeMap<String, String> {
        let module = &self.modules[path];
        let declared = module.imports.iter().filter(|(name, import)| {
            !import.is_public || module.mentions.iter().any(|mention| mention[0] == **name)
        });
        let declared = declared.map(|(_, import)| &import.path);
        let mut found = BTreeMap::new();
        for used in declared.chain(&module.mentions).chain(&module.globs) {
            let is_glob = module.globs.contains(used);
            let target = match self.locate(path, used, 0) {
                Some(Target::Item(owner)) => owner,
                Some(Target::Module(owner)) if is_glob => owner,
                _ => continue,
            };
            let file = &self.modules[&target].file;
            if *file != module.file {
                found.entry(file.clone()).or_insert_with(|| used.join("::"));
            }
        }
        found
    }

    /// Follows a path as written in a module, through imports and re-exports, to what it names.
    fn locate(&self, module: &[String], path: &[String], depth: usize) -> Option<Target> {
        if depth > 20 {
            return None;
        }
        let mut at = module.to_vec();
        for (index, segment) in path.iter().enumerate() {
            let is_last = index + 1 == path.len();
            match segment.as_str() {
                "crate" | "fairphase" if index == 0 => at.clear(),
                "self" => {}
                "super" => {
                    at.pop()?;
                }
                name => match self.step(&at, name, is_last, depth) {
                    Some(Target::Module(inside)) => at = inside,
                    Some(item) => return Some(item),
                    // Of another crate, or, after a module of this one, what a macro defines.
                    None => return (index > 0).then_some(Target::Item(at)),
                },
            }
        }
        Some(Target::Module(at))
    }

    /// One name in the scope of one module.
    fn step(&self, at: &[String], name: &str, is_last: bool, depth: usize) -> Option<Target> {
        let module = self.modules.get(at)?;
        let child = module.children.contains(name).then(|| {
            let path = [at, &[name.to_owned()]].concat();
            Target::Module(path)
        });
        if let (Some(child), false) = (child, is_last) {
            return Some(child);
        }
        if module.items.contains(name) {
            return Some(Target::Item(at.to_vec()));
        }
        let import = module.imports.get(name).filter(|import| import.path != [name]);
        let imported = import.and_then(|import| self.locate(at, &import.path, depth + 1));
        let by_glob = || {
            module.globs.iter().find_map(|glob| {
                let path = [glob.clone(), vec![name.to_owned()]].concat();
                self.locate(at, &path, depth + 1)
            })
        };
        let inside = module.children.contains(name).then(|| [at, &[name.to_owned()]].concat());
        imported.or_else(by_glob).or(inside.map(Target::Module))
    }
}

impl Module {
    fn import(&mut self, declaration: &ItemUse) {
        let is_public = !matches!(declaration.vis, syn::Visibility::Inherited);
        self.import_tree(&declaration.tree, Vec::new(), is_public);
    }

    fn import_tree(&mut self, tree: &UseTree, before: Segments, is_public: bool) {
        match tree {
            UseTree::Path(path) => {
                let next = [before, vec![path.ident.to_string()]].concat();
                self.import_tree(&path.tree, next, is_public);
            }
            UseTree::Group(group) => {
                for inside in &group.items {
                    self.import_tree(inside, before.clone(), is_public);
                }
            }
            UseTree::Glob(_) => self.globs.push(before),
            UseTree::Name(name) if name.ident == "self" => {
                let local = before.last().cloned().unwrap_or_default();
                self.imports.insert(local, Import { path: before, is_public });
            }
            UseTree::Name(name) => {
                let local = name.ident.to_string();
                let path = [before, vec![local.clone()]].concat();
                self.imports.insert(local, Import { path, is_public });
            }
            UseTree::Rename(renamed) => {
                let path = [before, vec![renamed.ident.to_string()]].concat();
                self.imports.insert(renamed.rename.to_string(), Import { path, is_public });
            }
        }
    }
}

fn child_file(files: &Files, parent: &[String], name: &str) -> String {
    let stem = [parent, &[name.to_owned()]].concat().join("/");
    let (single, folder) = (format!("{stem}.rs"), format!("{stem}/mod.rs"));
    if files.contains_key(&single) { single } else { folder }
}

/// Whether an item is compiled for tests alone.
pub fn is_for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        let tokens = attribute.to_token_stream().to_string().replace(' ', "");
        tokens.starts_with("#[cfg(test)]") || tokens.starts_with("#[test]")
    })
}

pub fn attributes(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(item) => &item.attrs,
        Item::Enum(item) => &item.attrs,
        Item::Fn(item) => &item.attrs,
        Item::Impl(item) => &item.attrs,
        Item::Macro(item) => &item.attrs,
        Item::Mod(item) => &item.attrs,
        Item::Static(item) => &item.attrs,
        Item::Struct(item) => &item.attrs,
        Item::Trait(item) => &item.attrs,
        Item::Type(item) => &item.attrs,
        Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

/// The name that an item defines in its module.
fn defined(item: &Item) -> Option<String> {
    let name = match item {
        Item::Const(item) => &item.ident,
        Item::Enum(item) => &item.ident,
        Item::Fn(item) => &item.sig.ident,
        Item::Static(item) => &item.ident,
        Item::Struct(item) => &item.ident,
        Item::Trait(item) => &item.ident,
        Item::Type(item) => &item.ident,
        _ => return None,
    };
    Some(name.to_string())
}

/// Every path in a stream of tokens, single names too.
fn mentions(stream: TokenStream, found: &mut BTreeSet<Segments>) {
    let tokens: Vec<TokenTree> = stream.into_iter().collect();
    let is_colon = |at: usize| matches!(tokens.get(at), Some(TokenTree::Punct(punct)) if punct.as_char() == ':');
    let mut at = 0;
    let mut after_dot = false;
    while at < tokens.len() {
        let mut path = Segments::new();
        while let Some(TokenTree::Ident(name)) = tokens.get(at) {
            path.push(name.to_string());
            at += 1;
            let joins = is_colon(at) && is_colon(at + 1);
            if !joins || !matches!(tokens.get(at + 2), Some(TokenTree::Ident(_))) {
                break;
            }
            at += 2;
        }
        if !path.is_empty() {
            if !after_dot {
                found.insert(path);
            }
            after_dot = false;
            continue;
        }
        if let TokenTree::Group(group) = &tokens[at] {
            mentions(group.stream(), found);
        }
        let is_dot = matches!(&tokens[at], TokenTree::Punct(punct) if punct.as_char() == '.');
        after_dot = is_dot && !after_dot;
        at += 1;
    }
}
