//! The system packages needed to build and test, under each system's names.

/// One needed package: its name on each system, and a probe for systems other than Debian.
pub(crate) struct Need {
    /// Debian and Ubuntu.
    pub(crate) debian: &'static str,
    /// Fedora.
    pub(crate) fedora: &'static str,
    /// Arch.
    pub(crate) arch: &'static str,
    /// A probe for its presence on any Linux.
    pub(crate) probe: Probe,
}

/// A sign that a package is installed.
pub(crate) enum Probe {
    /// `pkg-config` knows this module.
    Module(&'static str),
    /// This program is on the PATH.
    Program(&'static str),
    /// One of these files or folders exists, separated by colons.
    Path(&'static str),
}

use Probe::{Module, Path, Program};

const fn need(debian: &'static str, fedora: &'static str, arch: &'static str, probe: Probe) -> Need {
    Need { debian, fedora, arch, probe }
}

/// For building the plug-in and its editor.
pub(crate) const BUILD: &[Need] = &[
    need("pkg-config", "pkgconf-pkg-config", "pkgconf", Program("pkg-config")),
    need("g++", "gcc-c++", "gcc", Program("g++")),
    need("libx11-dev", "libX11-devel", "libx11", Module("x11")),
    need("libx11-xcb-dev", "libX11-devel", "libx11", Module("x11-xcb")),
    need("libxcb1-dev", "libxcb-devel", "libxcb", Module("xcb")),
    need("libxcb-icccm4-dev", "xcb-util-wm-devel", "xcb-util-wm", Module("xcb-icccm")),
    need("libxcb-dri2-0-dev", "libxcb-devel", "libxcb", Module("xcb-dri2")),
    need("libxcursor-dev", "libXcursor-devel", "libxcursor", Module("xcursor")),
    need("libxkbcommon-dev", "libxkbcommon-devel", "libxkbcommon", Module("xkbcommon")),
    need("libxkbcommon-x11-dev", "libxkbcommon-x11-devel", "libxkbcommon-x11", Module("xkbcommon-x11")),
    need("libgl-dev", "mesa-libGL-devel", "mesa", Module("gl")),
    need("libegl-dev", "mesa-libEGL-devel", "mesa", Module("egl")),
];

/// For running the tests: a virtual display, software rendering, and free recordings.
pub(crate) const TEST: &[Need] = &[
    need("xvfb", "xorg-x11-server-Xvfb", "xorg-server-xvfb", Program("Xvfb")),
    need("xauth", "xorg-x11-xauth", "xorg-xauth", Program("xauth")),
    need(
        "libgl1-mesa-dri",
        "mesa-dri-drivers",
        "mesa",
        Path("/usr/lib/dri:/usr/lib64/dri:/usr/lib/x86_64-linux-gnu/dri"),
    ),
    need("mesa-vulkan-drivers", "mesa-vulkan-drivers", "vulkan-swrast", Path("/usr/share/vulkan/icd.d")),
    need(
        "libvulkan1",
        "vulkan-loader",
        "vulkan-icd-loader",
        Path("/usr/lib/libvulkan.so.1:/usr/lib64/libvulkan.so.1:/usr/lib/x86_64-linux-gnu/libvulkan.so.1"),
    ),
    need("x11-utils", "xwininfo", "xorg-xwininfo", Program("xwininfo")),
    need("xdotool", "xdotool", "xdotool", Program("xdotool")),
    need("imagemagick", "ImageMagick", "imagemagick", Program("convert")),
    need("openbox", "openbox", "openbox", Program("openbox")),
    // CC0 recordings for the tests on real stereo. On other systems than Debian those tests report that they did not
    // run.
    need("sonic-pi-samples", "", "", Path("/usr/share/sonic-pi/samples")),
    // Independent references: a loudness meter, and a library for spectra. If they are missing, the tests that need
    // them report that they did not run.
    need("ffmpeg", "ffmpeg-free", "ffmpeg", Program("ffmpeg")),
    need("python3-scipy", "python3-scipy", "python-scipy", Program("python3")),
    // Measured head-related impulse responses; as above.
    need("soundscaperenderer-common", "", "", Path("/usr/share/ssr/impulse_responses/hrirs")),
];

/// For building for Windows on Debian and running the result: a compiler with the source of its standard library, a
/// linker with a C++ compiler, and Wine.
pub(crate) const CROSS: &[&str] = &["rustc-web", "rust-web-src", "g++-mingw-w64-x86-64-posix", "wine64"];
/// Packages whose files are read by tests in Wine, where `dpkg` is not available.
pub(crate) const READ_IN_WINE: &[&str] = &["sonic-pi-samples", "soundscaperenderer-common"];
/// For type-checking for macOS: the same compiler.
pub(crate) const MAC: &[&str] = &["rustc-web", "rust-web-src"];

/// The needs of macOS.
pub(crate) const MACOS: &str = "the command-line developer tools: `xcode-select --install`";
/// The needs of Windows.
pub(crate) const WINDOWS: &str =
    "the C++ build tools with a Windows SDK (the \"Desktop development with C++\" workload)";
