#![no_main]

#[path = "../bodies/records.rs"]
mod records;

#[global_allocator]
static BUDGET: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, 64 << 20);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| records::read(bytes));
