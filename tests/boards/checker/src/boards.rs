//! Which boards there are.

/// A board: how its images are built and run.
#[derive(Debug)]
pub struct Board {
    /// In messages, in file names and in the budget.
    pub name: &'static str,
    /// In the table of the docs.
    pub title: &'static str,
    /// The compiler's name for it.
    pub target: &'static str,
    /// Compiler flags.
    pub flags: &'static str,
    /// Programs that building needs beside the compiler, with the package that has them.
    pub needs: &'static [(&'static str, &'static str)],
    /// Program and arguments that run an image; the image's path comes last.
    pub emulator: &'static [&'static str],
    /// Where that program comes from.
    pub package: &'static str,
    /// More arguments under which the image's own counter counts instructions exactly; `None`: it has none.
    pub counting: Option<&'static [&'static str]>,
    /// More arguments under which every instruction is told; `None`: it cannot.
    pub tracing: Option<&'static [&'static str]>,
    /// Why nothing is counted on it.
    pub uncounted: Option<&'static str>,
    /// Compilers with which landings and cycles are left out on it, and why. Said at every run, never passed.
    pub fault: Option<(&'static [&'static str], &'static str)>,
    /// Routines that its code generator calls of its own accord, where the program holds nothing of the kind.
    pub own_routines: &'static [&'static str],
}

/// What is wrong changes with the code: with 1.96.0 `judge_series` returned to address 0 in the first case
/// with a reason to refuse, at both levels of optimisation; 1.95.0 gave every bit of one version of the core,
/// and of the next it lost a reason in case 16. Sums and gauge checks give the right bits.
const AVR_FAULT: (&[&str], &str) = (
    &["rustc 1.95.0", "rustc 1.96.0"],
    "these compilers' code for AVR loses reasons to refuse, or its way back",
);

/// Of the emulators of one family.
const TRACE: &[&str] = &["-singlestep", "-d", "exec,nochain"];

/// A file of this folder, for the emulator that is a script.
const WASM_RUN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/wasm-run.mjs");

macro_rules! cortex {
    ($($machine:literal),+) => {
        &["qemu-system-arm", $($machine,)+ "-display", "none", "-monitor", "none", "-serial", "none",
            "-chardev", "stdio,id=line", "-semihosting-config", "enable=on,chardev=line", "-kernel"]
    };
}

/// With one instruction at 1.024 µs of virtual time, SysTick counts instructions.
const SYSTICK: Option<&[&str]> = Some(&["-icount", "shift=10"]);

/// All of them.
pub const BOARDS: &[Board] = &[
    Board {
        name: "cortex-m0",
        title: "Cortex-M0",
        target: "thumbv6m-none-eabi",
        flags: "",
        needs: &[],
        emulator: cortex!("-machine", "microbit", "-cpu", "cortex-m0"),
        package: "qemu-system-arm",
        counting: SYSTICK,
        tracing: Some(TRACE),
        uncounted: None,
        fault: None,
        own_routines: &[],
    },
    Board {
        name: "cortex-m3",
        title: "Cortex-M3",
        target: "thumbv7m-none-eabi",
        flags: "",
        needs: &[],
        emulator: cortex!("-machine", "lm3s6965evb", "-cpu", "cortex-m3"),
        package: "qemu-system-arm",
        counting: SYSTICK,
        tracing: Some(TRACE),
        uncounted: None,
        fault: None,
        own_routines: &[],
    },
    Board {
        name: "cortex-m4f",
        title: "Cortex-M4F",
        target: "thumbv7em-none-eabihf",
        flags: "",
        needs: &[],
        emulator: cortex!("-machine", "mps2-an386", "-cpu", "cortex-m4"),
        package: "qemu-system-arm",
        counting: SYSTICK,
        tracing: Some(TRACE),
        uncounted: None,
        fault: None,
        own_routines: &[],
    },
    Board {
        name: "rv32imac",
        title: "RV32IMAC",
        target: "riscv32imac-unknown-none-elf",
        flags: "",
        needs: &[],
        emulator: &[
            "qemu-system-riscv32",
            "-machine",
            "virt",
            "-bios",
            "none",
            "-display",
            "none",
            "-monitor",
            "none",
            "-serial",
            "stdio",
            "-kernel",
        ],
        package: "qemu-system-misc",
        counting: Some(&["-icount", "shift=0"]),
        tracing: Some(TRACE),
        uncounted: None,
        fault: None,
        own_routines: &[],
    },
    Board {
        name: "atmega2560",
        title: "ATmega2560",
        target: "avr-none",
        flags: "-C target-cpu=atmega2560",
        needs: &[("avr-gcc", "gcc-avr"), ("/usr/lib/avr/lib/avr6/crtatmega2560.o", "avr-libc")],
        emulator: &[
            "qemu-system-avr",
            "-machine",
            "mega2560",
            "-display",
            "none",
            "-monitor",
            "none",
            "-serial",
            "stdio",
            "-bios",
        ],
        package: "qemu-system-misc",
        counting: None,
        tracing: Some(TRACE),
        uncounted: Some("floating point beside the core overflows its 8 KiB"),
        fault: Some(AVR_FAULT),
        own_routines: &[],
    },
    Board {
        name: "wasm32",
        title: "WebAssembly",
        target: "wasm32-unknown-unknown",
        flags: "",
        needs: &[],
        emulator: &["node", WASM_RUN],
        package: "nodejs",
        counting: None,
        tracing: None,
        uncounted: None,
        fault: None,
        // A checked product of 64 bits: that machine has no flag for it.
        own_routines: &["__multi3"],
    },
];

impl Board {
    /// The board of that name.
    pub fn named(name: &str) -> Option<&'static Board> {
        BOARDS.iter().find(|board| board.name == name)
    }

    /// Why landings and cycles are left out with this compiler.
    pub fn fault_with(&self, compiler: &str) -> Option<&'static str> {
        self.fault.filter(|(faulty, _)| faulty.contains(&compiler)).map(|(_, why)| why)
    }

    /// File name of an image.
    pub fn file(&self, image: &str) -> String {
        match self.target {
            "avr-none" => format!("{image}.elf"),
            "wasm32-unknown-unknown" => format!("{image}.wasm"),
            _ => image.to_owned(),
        }
    }

    /// The linker for a compiler that comes without one for boards: program and flavour; `None` where the
    /// target names its own.
    pub fn linker(&self) -> Option<(&'static str, &'static str)> {
        match self.target {
            "avr-none" => None,
            "wasm32-unknown-unknown" => Some(("wasm-ld-19", "wasm-ld")),
            _ => Some(("ld.lld-19", "ld.lld")),
        }
    }
}
