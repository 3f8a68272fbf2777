//! Where mutants are put: in place of results, operators, arms of a `match`.

use std::collections::BTreeSet;
use std::fmt::Write;

use proc_macro2::Span;
use quote::quote;
use syn::spanned::Spanned;
use syn::visit_mut::{self, VisitMut};
use syn::{
    Attribute, BinOp, Block, Expr, ExprBinary, ExprMatch, ExprMethodCall, ExprUnary, ImplItemFn, Item,
    ItemImpl, Pat, Signature, UnOp, parse_quote,
};

use crate::values::{Known, name_of};

/// Additions, subtractions and products that have a name: each becomes the other.
const NAMED: [(&str, &str); 8] = [
    ("plus", "minus"),
    ("minus", "plus"),
    ("times", "plus"),
    ("wrapping_add", "wrapping_sub"),
    ("wrapping_sub", "wrapping_add"),
    ("wrapping_mul", "wrapping_add"),
    ("max", "min"),
    ("min", "max"),
];

/// Goes through a file and puts mutants in.
pub struct Planter {
    pub file: String,
    next: u32,
    excluded: BTreeSet<u32>,
    known: Known,
    own: Option<String>,
    function: Vec<String>,
    listed: String,
}

impl Planter {
    pub fn new(first: u32, excluded: BTreeSet<u32>, known: Known) -> Self {
        let (own, function, listed) = (None, Vec::new(), String::new());
        Self { file: String::new(), next: first, excluded, known, own, function, listed }
    }

    /// Every mutant, a line each.
    pub fn list(&self) -> &str {
        &self.listed
    }

    /// The number of another mutant; `None` for one that is left out.
    fn number(&mut self, at: Span, what: &str) -> Option<proc_macro2::Literal> {
        let number = self.next;
        self.next += 1;
        if self.excluded.contains(&number) {
            return None;
        }
        let (place, function) = (at.start(), self.function.join("::"));
        let what = what.split_whitespace().collect::<Vec<_>>().join(" ");
        let (line, column) = (place.line, place.column + 1);
        writeln!(self.listed, "{number}\t{}\t{line}\t{column}\t{function}\t{what}", self.file).expect("text");
        Some(proc_macro2::Literal::u32_unsuffixed(number))
    }

    /// An expression with others in its place, each behind its switch.
    fn others(&mut self, whole: &mut Expr, at: Span, others: Vec<(String, Expr)>) {
        for (what, other) in others {
            if let Some(number) = self.number(at, &what) {
                let now = whole.clone();
                *whole = parse_quote!((if ::mutant::on(#number) { #other } else { #now }));
            }
        }
    }

    fn body(&mut self, signature: &Signature, block: &mut Block) {
        let constant = signature.constness.is_some();
        let original = quote!(#block).to_string();
        for value in self.known.values(&signature.output, self.own.as_deref(), constant) {
            let same: Block = parse_quote!({ #value });
            if quote!(#same).to_string() == original || block.stmts.is_empty() {
                continue;
            }
            let what = format!("result {}", quote!(#value));
            if let Some(number) = self.number(signature.ident.span(), &what) {
                let statement = parse_quote!(if ::mutant::on(#number) { return #value; });
                block.stmts.insert(0, statement);
            }
        }
    }

    fn inside(&mut self, signature: &Signature, block: &mut Block) {
        self.function.push(signature.ident.to_string());
        visit_mut::visit_block_mut(self, block);
        self.body(signature, block);
        self.function.pop();
    }
}

impl VisitMut for Planter {
    fn visit_item_mut(&mut self, item: &mut Item) {
        match item {
            // What is worked out while compiling cannot be switched.
            Item::Const(_)
            | Item::Static(_)
            | Item::Enum(_)
            | Item::Struct(_)
            | Item::Type(_)
            | Item::Macro(_) => {}
            Item::Mod(module) if for_tests(&module.attrs) => {}
            Item::Mod(module) => {
                if let Some((_, items)) = &mut module.content {
                    items.iter_mut().for_each(|item| self.visit_item_mut(item));
                }
            }
            Item::Fn(function) if for_tests(&function.attrs) => {}
            Item::Fn(function) => self.inside(&function.sig.clone(), &mut function.block),
            Item::Impl(block) => self.visit_item_impl_mut(block),
            Item::Trait(block) => {
                for part in &mut block.items {
                    if let syn::TraitItem::Fn(function) = part
                        && let Some(block) = &mut function.default
                    {
                        self.inside(&function.sig.clone(), block);
                    }
                }
            }
            _ => {}
        }
    }

    fn visit_item_impl_mut(&mut self, block: &mut ItemImpl) {
        let kind = block
            .trait_
            .as_ref()
            .and_then(|(_, path, _)| path.segments.last())
            .map(|last| last.ident.to_string());
        // No test could care how a value looks to a developer, or that a default is not itself.
        if for_tests(&block.attrs) || matches!(kind.as_deref(), Some("Debug" | "Default")) {
            return;
        }
        let before = std::mem::replace(&mut self.own, name_of(&block.self_ty));
        self.function.extend(self.own.clone());
        for part in &mut block.items {
            if let syn::ImplItem::Fn(function) = part {
                self.visit_impl_item_fn_mut(function);
            }
        }
        if self.own.is_some() {
            self.function.pop();
        }
        self.own = before;
    }

    fn visit_impl_item_fn_mut(&mut self, function: &mut ImplItemFn) {
        if !for_tests(&function.attrs) {
            self.inside(&function.sig.clone(), &mut function.block);
        }
    }

    // Lengths of arrays and other parts of a type are worked out while compiling.
    fn visit_type_mut(&mut self, _: &mut syn::Type) {}
    fn visit_generic_argument_mut(&mut self, _: &mut syn::GenericArgument) {}
    fn visit_pat_mut(&mut self, _: &mut Pat) {}
    fn visit_macro_mut(&mut self, _: &mut syn::Macro) {}

    fn visit_expr_mut(&mut self, whole: &mut Expr) {
        // Mutants are of the first order: within one all else is as it was.
        let original = whole.clone();
        match whole {
            Expr::Const(_) | Expr::Repeat(_) => return,
            Expr::Match(expression) => {
                self.visit_expr_match_mut(expression);
                return;
            }
            _ => visit_mut::visit_expr_mut(self, whole),
        }
        match &original {
            Expr::Binary(binary) if !lets(&original) => {
                let others = operators(&binary.op)
                    .into_iter()
                    .map(|op| {
                        let (now, then) = (&binary.op, &op);
                        let what = format!("{} for {}", quote!(#then), quote!(#now));
                        (what, Expr::Binary(ExprBinary { op, ..binary.clone() }))
                    })
                    .collect();
                self.others(whole, binary.op.span(), others);
            }
            Expr::Unary(ExprUnary { op: op @ (UnOp::Not(_) | UnOp::Neg(_)), expr, .. }) => {
                // A literal's own sign, so that the least of all can be written.
                let bare = (**expr).clone();
                self.others(whole, op.span(), vec![(format!("without {}", quote!(#op)), bare)]);
            }
            Expr::MethodCall(call) => {
                if let Some((_, name)) = NAMED.iter().find(|(name, _)| call.method == name)
                    && call.args.len() == 1
                {
                    let method = syn::Ident::new(name, call.method.span());
                    let what = format!("{name} for {}", call.method);
                    let other = Expr::MethodCall(ExprMethodCall { method, ..call.clone() });
                    self.others(whole, call.method.span(), vec![(what, other)]);
                }
            }
            _ => {}
        }
    }

    fn visit_expr_match_mut(&mut self, expression: &mut ExprMatch) {
        self.visit_expr_mut(&mut expression.expr);
        let rest = expression.arms.iter().any(|arm| matches!(arm.pat, Pat::Wild(_)) && arm.guard.is_none());
        for arm in &mut expression.arms {
            let original = arm.guard.as_ref().map(|(_, guard)| (**guard).clone());
            if let Some((_, guard)) = &mut arm.guard {
                self.visit_expr_mut(guard);
                if !original.as_ref().is_some_and(lets) {
                    let span = original.as_ref().map_or_else(Span::call_site, Spanned::span);
                    let others = vec![
                        ("guard true".to_owned(), parse_quote!(true)),
                        ("guard false".to_owned(), parse_quote!(false)),
                    ];
                    self.others(guard, span, others);
                }
            } else if rest && !matches!(arm.pat, Pat::Wild(_)) {
                let pattern = &arm.pat;
                let what = format!("without arm {}", quote!(#pattern));
                if let Some(number) = self.number(arm.pat.span(), &what) {
                    arm.guard = Some((Default::default(), parse_quote!(!::mutant::on(#number))));
                }
            }
            self.visit_expr_mut(&mut arm.body);
        }
    }
}

/// What an operator becomes.
fn operators(op: &BinOp) -> Vec<BinOp> {
    match op {
        BinOp::Eq(_) => vec![parse_quote!(!=)],
        BinOp::Ne(_) => vec![parse_quote!(==)],
        BinOp::And(_) => vec![parse_quote!(||)],
        BinOp::Or(_) => vec![parse_quote!(&&)],
        BinOp::Lt(_) => vec![parse_quote!(==), parse_quote!(>), parse_quote!(<=)],
        BinOp::Gt(_) => vec![parse_quote!(==), parse_quote!(<), parse_quote!(>=)],
        BinOp::Le(_) => vec![parse_quote!(>), parse_quote!(<)],
        BinOp::Ge(_) => vec![parse_quote!(<), parse_quote!(>)],
        BinOp::Add(_) => vec![parse_quote!(-), parse_quote!(*)],
        BinOp::Sub(_) => vec![parse_quote!(+), parse_quote!(/)],
        BinOp::Mul(_) => vec![parse_quote!(+), parse_quote!(/)],
        BinOp::Div(_) => vec![parse_quote!(%), parse_quote!(*)],
        BinOp::Rem(_) => vec![parse_quote!(/), parse_quote!(+)],
        BinOp::Shl(_) => vec![parse_quote!(>>)],
        BinOp::Shr(_) => vec![parse_quote!(<<)],
        BinOp::BitAnd(_) => vec![parse_quote!(|), parse_quote!(^)],
        BinOp::BitOr(_) => vec![parse_quote!(&), parse_quote!(^)],
        BinOp::BitXor(_) => vec![parse_quote!(|), parse_quote!(&)],
        BinOp::AddAssign(_) => vec![parse_quote!(-=), parse_quote!(*=)],
        BinOp::SubAssign(_) => vec![parse_quote!(+=), parse_quote!(/=)],
        BinOp::MulAssign(_) => vec![parse_quote!(+=), parse_quote!(/=)],
        BinOp::DivAssign(_) => vec![parse_quote!(%=), parse_quote!(*=)],
        BinOp::ShlAssign(_) => vec![parse_quote!(>>=)],
        BinOp::ShrAssign(_) => vec![parse_quote!(<<=)],
        BinOp::BitAndAssign(_) => vec![parse_quote!(|=)],
        BinOp::BitOrAssign(_) => vec![parse_quote!(&=)],
        _ => vec![],
    }
}

/// Whether a chain of conditions holds a `let`, which stands nowhere else.
fn lets(expression: &Expr) -> bool {
    match expression {
        Expr::Let(_) => true,
        Expr::Binary(binary) => {
            matches!(binary.op, BinOp::And(_)) && (lets(&binary.left) || lets(&binary.right))
        }
        _ => false,
    }
}

fn for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        let text = quote!(#attribute).to_string().replace(' ', "");
        text.contains("cfg(test)") || text.contains("#[test]") || text.contains("cfg(doctest)")
    })
}
