"""What people ask of a tank, one question a folder or file: model in, frozen result out."""
