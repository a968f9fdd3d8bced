"""One question a module: model in, frozen result out."""
