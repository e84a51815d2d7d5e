"""Where things stand in a drill file: :mod:`listener.toml_lines`, under the name that this part knows it by."""

from listener.toml_lines import Path as Path
from listener.toml_lines import TomlLines as TomlLines
from listener.toml_lines import syntax_words as syntax_words
from listener.toml_lines import toml_lines as toml_lines
