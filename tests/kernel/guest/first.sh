#!/bin/sh
# The first program: finds the root behind virtio, lays memory over it, and goes over to it.
b=/bin/busybox
$b mount -t devtmpfs dev /dev
while read -r module; do $b insmod "/modules/$module"; done < /modules.txt
$b mount -t squashfs -o ro /dev/vda /ro
$b mount -t tmpfs memory /rw
$b mkdir /rw/upper /rw/work
$b mount -t overlay -o lowerdir=/ro,upperdir=/rw/upper,workdir=/rw/work root /new
$b umount /dev
exec $b switch_root /new /init
