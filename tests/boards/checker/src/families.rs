//! What must not be in an image, and how its name gives it away.

use std::fmt;

use rustc_demangle::{Demangle, try_demangle};

/// Kinds of things that no image may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Family {
    Panic,
    Float,
    Allocation,
    /// Arithmetic on integers wider than 64 bits.
    Wide,
    /// A routine that nobody has judged yet.
    Unknown,
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Family::Panic => "panic",
            Family::Float => "float",
            Family::Allocation => "allocation",
            Family::Wide => "128-bit",
            Family::Unknown => "unknown routine",
        })
    }
}

/// Something that must not be there.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finding {
    pub family: Family,
    /// What was seen, for the message.
    pub what: String,
}

/// Names without a path that an image may hold: its own, and the runtime's integer and memory routines
/// ("Run-time ABI for the Arm Architecture", 4.2 and 4.3; the compiler's own names for the same).
///
/// A list of what is allowed, not of what is not: a float routine under a new name then fails as unknown.
const ALLOWED: &[&str] = &[
    // link/*.ld and src/bin/*.rs
    "reset",
    "stack_top",
    "data_start",
    "data_end",
    "data_load",
    "bss_start",
    "bss_end",
    "begin",
    "trap",
    "count_begins",
    "count_ends",
    // an AVR's start-up, and its C library's own integer routines ("avr-gcc ABI", libgcc)
    "main",
    "exit",
    "_exit",
    "abort",
    "__vectors",
    "__bad_interrupt",
    "__stop_program",
    "__ctors_start",
    "__ctors_end",
    "__dtors_start",
    "__dtors_end",
    "__data_start",
    "__data_end",
    "__data_load_start",
    "__data_load_end",
    "__bss_start",
    "__bss_end",
    "__heap_start",
    "__heap_end",
    "__init",
    "__EEPROM_REGION_LENGTH__",
    "__FUSE_REGION_LENGTH__",
    "__LOCK_REGION_LENGTH__",
    "__SIGNATURE_REGION_LENGTH__",
    "__USER_SIGNATURE_REGION_LENGTH__",
    "__stack",
    "__do_copy_data",
    "__do_clear_bss",
    "__tmp_reg__",
    "__zero_reg__",
    "__SREG__",
    "__SP_L__",
    "__SP_H__",
    "__RAMPZ__",
    "__EIND__",
    "__udivmodhi4",
    "__divmodhi4",
    "__udivmodqi4",
    "__divmodqi4",
    "__mulhisi3",
    "__umulhisi3",
    "__muluhisi3",
    "__mulshisi3",
    // WebAssembly: the two imports
    "put_byte",
    "exit_with",
    // 32- and 64-bit integers
    "__aeabi_idiv",
    "__aeabi_uidiv",
    "__aeabi_idivmod",
    "__aeabi_uidivmod",
    "__aeabi_ldivmod",
    "__aeabi_uldivmod",
    "__aeabi_lmul",
    "__aeabi_llsl",
    "__aeabi_llsr",
    "__aeabi_lasr",
    "__aeabi_lcmp",
    "__aeabi_ulcmp",
    "__divsi3",
    "__udivsi3",
    "__modsi3",
    "__umodsi3",
    "__divmodsi4",
    "__udivmodsi4",
    "__mulsi3",
    "__divdi3",
    "__udivdi3",
    "__moddi3",
    "__umoddi3",
    "__divmoddi4",
    "__udivmoddi4",
    "__muldi3",
    "__ashldi3",
    "__ashrdi3",
    "__lshrdi3",
    "__mulosi4",
    "__mulodi4",
    "__clzsi2",
    "__clzdi2",
    "__ctzsi2",
    "__ctzdi2",
    "__popcountsi2",
    "__popcountdi2",
    "__bswapsi2",
    "__bswapdi2",
    // memory
    "memcpy",
    "memmove",
    "memset",
    "memcmp",
    "bcmp",
    "__aeabi_memcpy",
    "__aeabi_memcpy4",
    "__aeabi_memcpy8",
    "__aeabi_memmove",
    "__aeabi_memmove4",
    "__aeabi_memmove8",
    "__aeabi_memset",
    "__aeabi_memset4",
    "__aeabi_memset8",
    "__aeabi_memclr",
    "__aeabi_memclr4",
    "__aeabi_memclr8",
];

/// The family of a symbol as it stands in a symbol table, or `None` where it may stay.
pub fn of_symbol(symbol: &str) -> Option<Finding> {
    let (path, mangled) = match try_demangle(symbol) {
        Ok(path) => (plain(&path), true),
        Err(_) => (symbol.to_owned(), false),
    };
    let family = of_name(&path).or((!mangled && !is_allowed(&path)).then_some(Family::Unknown))?;
    Some(Finding { family, what: path })
}

/// A path without hashes and without what the optimiser appends.
fn plain(path: &Demangle) -> String {
    let path = format!("{path:#}");
    path.split(".llvm.").next().unwrap_or_default().to_owned()
}

/// Beginnings of names that an image may hold: constants that the optimiser names, an AVR's vectors and its
/// linker's regions.
const ALLOWED_STARTS: &[&str] = &["anon.", "switch.table.", "__vector_", "__TEXT_REGION_", "__DATA_REGION_"];

fn is_allowed(name: &str) -> bool {
    ALLOWED.contains(&name) || ALLOWED_STARTS.iter().any(|start| name.starts_with(start))
}

fn of_name(path: &str) -> Option<Family> {
    if is_panic(path) {
        return Some(Family::Panic);
    }
    if matches!(path, "malloc" | "calloc" | "realloc" | "free") {
        return Some(Family::Allocation);
    }
    words(path).find_map(of_word)
}

/// The panic handler's own mark, the machinery of `core`, and its cold ends such as `unwrap_failed`.
fn is_panic(path: &str) -> bool {
    let library = ["core::", "alloc::", "<core::", "<alloc::"].iter().any(|start| path.starts_with(start));
    let last = path.rsplit("::").next().unwrap_or(path);
    path.contains("panic")
        || path.contains("rust_begin_unwind")
        || path.contains("rust_eh_personality")
        || (library && (last.ends_with("_fail") || last.ends_with("_failed") || last.contains("unwind")))
}

fn words(path: &str) -> impl Iterator<Item = &str> {
    path.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').filter(|word| !word.is_empty())
}

fn of_word(word: &str) -> Option<Family> {
    match word {
        "f16" | "f32" | "f64" | "f128" | "libm" | "dec2flt" | "flt2dec" => return Some(Family::Float),
        "i128" | "u128" => return Some(Family::Wide),
        "GlobalAlloc" => return Some(Family::Allocation),
        _ => {}
    }
    let has = |part: &str| word.contains(part);
    if has("float") || is_float_routine(word) {
        Some(Family::Float)
    } else if has("i128") || has("u128") || is_wide_routine(word) {
        Some(Family::Wide)
    } else if ["__rust_", "__rg_", "__rdl_"].iter().any(|start| word.starts_with(start)) && has("alloc") {
        Some(Family::Allocation)
    } else {
        None
    }
}

/// `__multi3`, `__udivti3`, `__ashlti3`, `__muloti4`, …
fn is_wide_routine(word: &str) -> bool {
    word.starts_with("__") && word.trim_end_matches(|c: char| c.is_ascii_digit()).ends_with("ti")
}

/// Runtime routines on floating point: `__aeabi_dadd`, `__aeabi_i2f`, `__addsf3`, `__fixdfsi`,
/// `__gnu_h2f_ieee`, …
fn is_float_routine(word: &str) -> bool {
    if let Some(arm) = word.strip_prefix("__aeabi_") {
        let compares = arm.strip_prefix('c').unwrap_or(arm);
        let operates = compares.starts_with(['f', 'd']);
        let converts = ["2f", "2d", "2h", "2iz", "2uiz", "2lz", "2ulz"].iter().any(|end| arm.contains(end));
        return operates || converts;
    }
    let Some(routine) = word.strip_prefix("__") else { return false };
    routine.starts_with("gnu_")
        || routine.starts_with("fix")
        || ["hf", "sf", "df", "tf"].iter().any(|kind| {
            routine.match_indices(kind).any(|(at, _)| {
                let rest = &routine[at + kind.len()..];
                rest.is_empty()
                    || rest.starts_with(|c: char| c.is_ascii_digit())
                    || rest.starts_with(['h', 's', 'd', 't'])
            })
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn family(symbol: &str) -> Option<Family> {
        of_symbol(symbol).map(|finding| finding.family)
    }

    #[test]
    fn runtime_routines_fall_into_their_families() {
        let float = "__aeabi_fadd __aeabi_dmul __aeabi_cfcmple __aeabi_cdrcmple __aeabi_i2f __aeabi_ui2d __aeabi_l2d \
            __aeabi_ul2f __aeabi_f2iz __aeabi_d2ulz __aeabi_f2d __aeabi_d2h __aeabi_h2f __addsf3 __muldf3 __divtf3 \
            __negdf2 __eqsf2 __unorddf2 __fixdfsi __fixunssfdi __floatsisf __floatundidf __extendsfdf2 __truncdfhf2 __powisf2 \
            __gnu_h2f_ieee __floattidf __fixdfti";
        for name in float.split_whitespace() {
            assert_eq!(family(name), Some(Family::Float), "{name}");
        }
        let wide = "__multi3 __udivti3 __umodti3 __divti3 __modti3 __udivmodti4 __ashlti3 __lshrti3 __ashrti3 \
            __muloti4 __clzti2 __rust_u128_mulo __rust_i128_addo";
        for name in wide.split_whitespace() {
            assert_eq!(family(name), Some(Family::Wide), "{name}");
        }
        let allocation =
            "__rust_alloc __rust_dealloc __rust_realloc __rust_alloc_zeroed __rg_alloc __rdl_alloc malloc";
        for name in allocation.split(' ') {
            assert_eq!(family(name), Some(Family::Allocation), "{name}");
        }
        for name in "sqrtf fmod printf __aeabi_unwind_cpp_pr0".split(' ') {
            assert_eq!(family(name), Some(Family::Unknown), "{name}");
        }
    }

    #[test]
    fn what_may_stay_stays() {
        for name in ALLOWED {
            assert_eq!(family(name), None, "{name}");
        }
        for name in [
            "_ZN6zdatum7landing7Landing5solve17h0d83a6bc71a17e82E",
            "_RNvNtNtCsjc7sn2q0iDy_17compiler_builtins3int19specialized_div_rem11u64_div_rem",
            "_ZN54_$LT$zdatum..Refusal$u20$as$u20$core..fmt..Display$GT$3fmt17hae732265937259b5E",
        ] {
            assert_eq!(family(name), None, "{name}");
        }
    }

    #[test]
    fn mangled_names_are_read_in_both_schemes() {
        for (name, expected) in [
            ("_RNvNtCseold96UKqg_4core9panicking18panic_bounds_check", Family::Panic),
            ("_RNvCsfLfy6EI15iL_7___rustc17rust_begin_unwind", Family::Panic),
            ("_ZN4core6option13unwrap_failed17h0123456789abcdefE", Family::Panic),
            ("_ZN4core5slice5index16slice_index_fail17h0123456789abcdefE", Family::Panic),
            ("reached_a_panic", Family::Panic),
            ("_RNvNtNtNtCsjc7sn2q0iDy_17compiler_builtins5float3add8___addsf3", Family::Float),
            ("_ZN4core3num7dec2flt5parse17h0123456789abcdefE", Family::Float),
            (
                "_ZN17compiler_builtins3int19specialized_div_rem12u128_div_rem17h0123456789abcdefE",
                Family::Wide,
            ),
            ("_RNvCsfLfy6EI15iL_7___rustc12___rust_alloc", Family::Allocation),
        ] {
            assert_eq!(family(name), Some(expected), "{name}");
        }
    }
}
