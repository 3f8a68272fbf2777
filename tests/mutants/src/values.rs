//! What a function could give back in place of its result.

use std::collections::BTreeSet;

use quote::quote;
use syn::visit::{self, Visit};
use syn::{Expr, GenericArgument, Item, ItemImpl, Path, PathArguments, ReturnType, Type, parse_quote};

/// Types of the package that have a default, and those with a `ZERO`.
#[derive(Default)]
pub struct Known {
    default: BTreeSet<String>,
    zero: BTreeSet<String>,
}

impl Known {
    pub fn of(files: &[syn::File]) -> Self {
        let mut known = Self::default();
        for file in files {
            known.visit_file(file);
        }
        known
    }

    /// Values of a result, at most three; none where nothing is known of its type. `own` is what `Self`
    /// stands for.
    pub fn values(&self, result: &ReturnType, own: Option<&str>, constant: bool) -> Vec<Expr> {
        match result {
            ReturnType::Default => vec![parse_quote!(())],
            ReturnType::Type(_, kind) => self.of_type(kind, own, constant),
        }
    }

    fn of_type(&self, kind: &Type, own: Option<&str>, constant: bool) -> Vec<Expr> {
        match kind {
            Type::Tuple(tuple) if tuple.elems.is_empty() => vec![parse_quote!(())],
            Type::Tuple(tuple) => {
                let parts: Option<Vec<Expr>> = tuple
                    .elems
                    .iter()
                    .map(|part| self.of_type(part, own, constant).into_iter().next())
                    .collect();
                parts.map(|parts| parse_quote!((#(#parts),*))).into_iter().collect()
            }
            Type::Reference(reference) if reference.mutability.is_none() => match &*reference.elem {
                Type::Path(path) if path.path.is_ident("str") => {
                    vec![parse_quote!(""), parse_quote!("xyzzy")]
                }
                Type::Slice(_) => vec![parse_quote!(&[])],
                _ => vec![],
            },
            Type::Array(array) => {
                let length = &array.len;
                let parts = self.of_type(&array.elem, own, constant);
                parts.iter().take(2).map(|part| parse_quote!([#part; #length])).collect()
            }
            Type::Path(path) => self.of_path(&path.path, own, constant),
            _ => vec![],
        }
    }

    fn of_path(&self, path: &Path, own: Option<&str>, constant: bool) -> Vec<Expr> {
        let Some(last) = path.segments.last() else { return vec![] };
        let name = last.ident.to_string();
        let inner = || match &last.arguments {
            PathArguments::AngleBracketed(list) => list.args.iter().find_map(|argument| match argument {
                GenericArgument::Type(kind) => Some(self.of_type(kind, own, constant)),
                _ => None,
            }),
            _ => None,
        };
        match name.as_str() {
            "bool" => vec![parse_quote!(true), parse_quote!(false)],
            "u8" | "u16" | "u32" | "u64" | "u128" | "usize" => vec![parse_quote!(0), parse_quote!(1)],
            "i8" | "i16" | "i32" | "i64" | "i128" | "isize" => {
                vec![parse_quote!(0), parse_quote!(1), parse_quote!(-1)]
            }
            "f64" => vec![parse_quote!(0.0), parse_quote!(1.0), parse_quote!(-1.0)],
            "String" if !constant => vec![parse_quote!(String::new())],
            "Vec" if !constant => vec![parse_quote!(Vec::new())],
            "Option" => {
                let some = inner().unwrap_or_default();
                let some = some.iter().map(|value| parse_quote!(Some(#value)));
                [parse_quote!(None)].into_iter().chain(some).take(3).collect()
            }
            "Result" => inner().unwrap_or_default().iter().map(|value| parse_quote!(Ok(#value))).collect(),
            _ => {
                let full = if name == "Self" { own.unwrap_or("Self") } else { &name };
                if self.zero.contains(full) {
                    let tokens = quote!(#path);
                    vec![parse_quote!(<#tokens>::ZERO)]
                } else if self.default.contains(full) && !constant {
                    vec![parse_quote!(::core::default::Default::default())]
                } else {
                    vec![]
                }
            }
        }
    }
}

impl<'a> Visit<'a> for Known {
    fn visit_item(&mut self, item: &'a Item) {
        let (name, attributes) = match item {
            Item::Struct(item) => (&item.ident, &item.attrs),
            Item::Enum(item) => (&item.ident, &item.attrs),
            _ => return visit::visit_item(self, item),
        };
        let derived = attributes
            .iter()
            .any(|a| a.path().is_ident("derive") && quote!(#a).to_string().contains("Default"));
        if derived {
            self.default.insert(name.to_string());
        }
    }

    fn visit_item_impl(&mut self, item: &'a ItemImpl) {
        let Some(name) = name_of(&item.self_ty) else { return };
        if item.trait_.as_ref().is_some_and(|(_, path, _)| path.is_ident("Default")) {
            self.default.insert(name.clone());
        }
        let zero = item.items.iter().any(|part| matches!(part, syn::ImplItem::Const(c) if c.ident == "ZERO"));
        if zero {
            self.zero.insert(name);
        }
    }
}

/// The last part of a type's path.
pub fn name_of(kind: &Type) -> Option<String> {
    match kind {
        Type::Path(path) => path.path.segments.last().map(|last| last.ident.to_string()),
        _ => None,
    }
}
