# What the scripts of this folder share. Read with `.` from the top folder of the source.
export LC_ALL=C TZ=UTC
umask 022
version=$(cat src/version)
changelog=.ci/package/changelog

die() {
    echo "$(basename "$0"): $*" >&2
    exit 1
}

[ "$(sed -n '1s/^ridgetally (\([^)]*\)).*/\1/p' "$changelog")" = "$version" ] ||
    die "$changelog does not begin with version $version of src/version"

# The time of everything that carries one is that of the newest entry, not the clock's.
SOURCE_DATE_EPOCH=$(date -u -d "$(sed -n '/^ -- /{s/^ -- .*>  //p;q;}' "$changelog")" +%s)
export SOURCE_DATE_EPOCH

# pack FOLDER NAME FILE.tar.xz: the folder NAME in FOLDER, the same bytes whoever packs it, and when.
pack() {
    tar -C "$1" --sort=name --owner=0 --group=0 --numeric-owner --mode=u=rwX,go=rX --mtime="@$SOURCE_DATE_EPOCH" \
        --format=gnu -cf - "$2" | xz -6 -T1 > "$3.new"
    mv "$3.new" "$3"
}

# stripped PROGRAM FILE: a copy without what only a debugger needs.
stripped() {
    strip --strip-unneeded --remove-section=.comment --remove-section=.note -o "$2" "$1"
    chmod 755 "$2"
}
