"""Format profiles: what a kind of gauge sends, read from TOML files."""

from gaugelink.devices.profiles.profile import (
    PortSettings,
    Profile,
    ProfileSet,
    find_profile,
    load_profiles,
)

__all__ = ["PortSettings", "Profile", "ProfileSet", "find_profile", "load_profiles"]
