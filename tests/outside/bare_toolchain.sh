# Sourced: the toolchain for a bare Cortex-M3. Sets `target` and `core`, the options that build what rustup would bring.
target=thumbv7m-none-eabi
core=()
if ! rustup target list --installed 2>/dev/null | grep -qx $target; then
    # Debian's toolchain builds `core` from its source; -Z options ask for the bootstrap switch there.
    export RUSTC_BOOTSTRAP=1
    export PATH=/usr/bin:$PATH
    core=(-Zbuild-std=core)
fi
